package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"fitsqa/internal/cache"
	"fitsqa/internal/demo"
	"fitsqa/internal/night"
	"fitsqa/internal/say"
	"fitsqa/internal/subs"
)

type bench struct {
	dir         string
	store       *cache.Store
	kept, wrong bool
	draws       int // of subs to leave out of each night

	nights               int
	good, goodCulled     int
	spoiled, spoiledKept int
	causes, causesRight  int
	causesSecond         int     // of those right: another one spoils the sub still more
	worst                float64 // share of good subs culled in the worst night
	worstNight           string
	table                map[string]map[string]int // truth, verdict
	tenth, half          change
	second               int // culled by a second pass
}

// change counts verdicts that others' absence changes.
type change struct{ others, changed int }

func (c change) String() string {
	return fmt.Sprintf("%d of %d verdicts (%.1f %%)", c.changed, c.others, 100*float64(c.changed)/max(1, float64(c.others)))
}

// night makes one night, judges it and holds the verdicts to the truth.
func (b *bench) night(ctx context.Context, sc demo.Scenario, seed int) error {
	name := fmt.Sprintf("%s-%d", sc.Name, seed)
	dir := filepath.Join(b.dir, name)
	if !b.kept {
		defer os.RemoveAll(dir)
	}
	truth, err := makeNight(ctx, dir, sc)
	if err != nil {
		return err
	}
	result, err := b.judge(ctx, dir)
	if err != nil {
		return err
	}
	b.nights++
	b.compare(name, truth, result)
	if b.draws > 0 {
		return b.tryStability(ctx, dir, result, uint64(seed))
	}
	return nil
}

// makeNight writes a night, or reads the truth of the one that is there.
func makeNight(ctx context.Context, dir string, sc demo.Scenario) (*demo.Truth, error) {
	text, err := os.ReadFile(demo.TruthPath(dir))
	if errors.Is(err, fs.ErrNotExist) {
		return demo.Write(ctx, dir, sc, nil)
	}
	var t demo.Truth
	return &t, errors.Join(err, json.Unmarshal(text, &t))
}

func (b *bench) judge(ctx context.Context, dir string) (*night.Result, error) {
	s := night.DefaultSettings()
	s.Cache = b.store
	return night.Run(ctx, []string{dir}, s, nil)
}

func (b *bench) compare(name string, truth *demo.Truth, r *night.Result) {
	verdicts := map[string]*night.Sub{}
	for _, s := range r.Subs {
		verdicts[s.File] = s
	}
	good, culled := 0, 0
	for _, want := range truth.Subs {
		got := verdicts[want.File]
		b.count(describe(string(want.Class), want.Causes), describe(string(got.Verdict), got.Causes))
		bad := ""
		switch {
		case want.Class == demo.Good:
			good++
			switch got.Verdict {
			case subs.Cull:
				culled++
				bad = "good and culled"
			case subs.Doubtful:
				bad = "good and doubted"
			}
		case want.Class == demo.Spoiled && got.Verdict != subs.Cull:
			b.spoiled++
			b.spoiledKept++
			bad = "spoiled and not culled"
		case want.Class == demo.Spoiled:
			b.spoiled++
			b.causes++
			switch lead := string(got.Causes[0]); {
			case lead == want.Causes[0]:
				b.causesRight++
			case slices.Contains(want.Causes[:want.Spoil], lead):
				b.causesRight++
				b.causesSecond++
			default:
				bad = "another cause"
			}
		}
		if bad != "" {
			b.tell("%s: %s is %s\n  truth  %s\n  judged %s\n", name, want.File, bad, truly(want), judged(got))
		}
	}
	b.good += good
	b.goodCulled += culled
	if share := float64(culled) / max(1, float64(good)); share > b.worst {
		b.worst, b.worstNight = share, name
	}
}

func truly(s demo.Sub) string {
	return fmt.Sprintf("%s %v: noise %.2f of what is borne, light %.2f, sky %.2f, FWHM %.2f px %.2f, trail %.2f, covered %.2f, dewed %.2f, doubled %.2f, %d stars",
		s.Class, s.Causes, s.LightRatio, s.Transparency, s.SkyRatio, s.FWHM, s.FWHMRatio, s.Ellipticity*s.Coherence, s.Covered, s.Dewed, s.DoubleShare, s.StarsAbove5)
}

// judged tells what was made of a sub, and the figures behind it.
func judged(s *night.Sub) string {
	text := fmt.Sprintf("%s %v: ", s.Verdict, s.Causes)
	if f := s.Field; f != nil {
		t := s.Transparency
		text += fmt.Sprintf("transparency %.2f ± %.2f of %d stars, uneven %.1f ± %.1f, covered %.2f ± %.2f, sky %.4g, noise %.3g, halo %.3f ± %.3f, FWHM %.2f ± %.2f, trail %.2f ± %.2f at %.0f° of %d, %d stars: ",
			t.Ratio.V, t.Ratio.Err, t.Ratio.N, t.Unevenness.V, t.Unevenness.Err, t.Covered.V, t.Covered.Err, s.SkyADU.V, s.RandomNoise.V, f.Halo.V, f.Halo.Err,
			f.FWHM.V, f.FWHM.Err, f.Ellipticity.V*f.Coherence.V, f.Ellipticity.Err, f.Angle.V, f.Ellipticity.N, f.Count)
	}
	return text + say.Sub(s.Sub)
}

func describe[C ~string](class string, causes []C) string {
	if len(causes) == 0 || class == string(demo.Good) {
		return class
	}
	return class + " " + string(causes[0])
}

func (b *bench) count(truth, verdict string) {
	if b.table[truth] == nil {
		b.table[truth] = map[string]int{}
	}
	b.table[truth][verdict]++
}

func (b *bench) print(w io.Writer) {
	columns := map[string]bool{}
	for _, row := range b.table {
		for v := range row {
			columns[v] = true
		}
	}
	heads := slices.Sorted(maps.Keys(columns))
	for _, truth := range slices.Sorted(maps.Keys(b.table)) {
		var cells []string
		for _, h := range heads {
			if n := b.table[truth][h]; n > 0 {
				cells = append(cells, fmt.Sprintf("%s %d", h, n))
			}
		}
		fmt.Fprintf(w, "%-24s %s\n", truth, strings.Join(cells, ", "))
	}
	percent := func(n, of int) string {
		return fmt.Sprintf("%d of %d (%.2f %%)", n, of, 100*float64(n)/max(1, float64(of)))
	}
	fmt.Fprintf(w, "good culled      %s; worst night %.1f %% %s\n", percent(b.goodCulled, b.good), 100*b.worst, b.worstNight)
	fmt.Fprintf(w, "spoiled kept     %s\n", percent(b.spoiledKept, b.spoiled))
	fmt.Fprintf(w, "causes right     %s; %d of them where another spoils the sub still more\n", percent(b.causesRight, b.causes), b.causesSecond)
	if b.draws > 0 {
		fmt.Fprintf(w, "without a tenth  %s change\nwithout half     %s change\nsecond pass      culls %d more\n", b.tenth, b.half, b.second)
	}
}
