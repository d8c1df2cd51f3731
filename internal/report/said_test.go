package report

import (
	"encoding/json"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"fitsqa/internal/night"
)

// said is what the tests read of night.json.
type said struct {
	Summary struct {
		Subs, Keep, Doubtful, Cull int
		NotJudged                  int      `json:"not_judged"`
		Shot                       float64  `json:"shot_s"`
		Usable                     float64  `json:"usable_s"`
		Clear                      *float64 `json:"equivalent_clear_s"`
	}
	Answer struct {
		Poor, Less, Depth                   string
		Believe, Morning, Next, Calibration []string
		Trouble                             []saidTrouble
	}
	Subs   []saidSub
	Groups []struct {
		Target, Filter             string
		Subs, Keep, Doubtful, Cull int
		Exposure                   float64  `json:"exposure_s"`
		Shot                       float64  `json:"shot_s"`
		Usable                     float64  `json:"usable_s"`
		Clear                      *float64 `json:"equivalent_clear_s"`
		Season                     struct {
			Limit saidFigure `json:"limiting_mag"`
			Sky   saidFigure `json:"sky_mag_arcsec2"`
		}
		Economics struct {
			Stacked      int
			Weighted     []float64
			UserDrop     int      `json:"user_drop"`
			UserWeighted *float64 `json:"user_weighted"`
		}
	}
	Focus []struct {
		Since   time.Time  `json:"since_utc"`
		Minutes saidFigure `json:"refocus_minutes"`
		Degrees saidFigure `json:"refocus_c"`
	}
	Exposures []struct {
		Target, Filter string
		Current        *float64 `json:"current_s"`
		From           *float64 `json:"from_s"`
		To             *float64 `json:"to_s"`
		Gain           *float64
		Share          saidFigure `json:"read_noise_share"`
		Gap            saidFigure `json:"gap_s"`
		Best           saidFigure `json:"best_s"`
	}
	Worth, Dust, Shopping []map[string]any
}

type saidFigure struct{ Value *float64 }

type saidTrouble struct {
	Cause, Sentence      string
	Subs, Cull, Doubtful int
	CullS                float64 `json:"cull_s"`
}

type saidSub struct {
	Name, Verdict, Target, Filter string
	Causes                        []string
	Start                         *time.Time `json:"start_utc"`
	Exposure                      *float64   `json:"exposure_s"`
	Ambient                       *float64   `json:"ambient_temp_c"`
	Decided                       bool       `json:"user_decision"`
	Measures                      map[string]saidFigure
	Findings                      []struct {
		Facts []struct {
			Code   string
			Values map[string]any
		}
	}
}

// fact is a number of the first of a sub's facts of a code; NaN when there is none.
func (s saidSub) fact(code, value string) float64 {
	for _, f := range s.Findings {
		for _, x := range f.Facts {
			if v, ok := x.Values[value].(float64); ok && x.Code == code {
				return v
			}
		}
	}
	return math.NaN()
}

// measure of a sub; NaN when missing.
func (s saidSub) measure(name string) float64 {
	if v := s.Measures[name].Value; v != nil {
		return *v
	}
	return math.NaN()
}

// sentence is one that is being taken apart: what was found true is cut out.
type sentence struct {
	t    *testing.T
	full string
	left string
}

func take(t *testing.T, text string) *sentence {
	text = strings.NewReplacer("\u00a0", " ", "−", "-").Replace(text)
	return &sentence{t, text, text}
}

// find cuts the first match of a pattern out and gives its groups; nil for none.
func (s *sentence) find(pattern string) []string {
	m := regexp.MustCompile(pattern).FindStringSubmatch(s.left)
	if m != nil {
		s.left = strings.Replace(s.left, m[0], " ", 1)
	}
	return m
}

// holds compares a number as written with the figure behind it: half a unit of its
// last digit.
func (s *sentence) holds(what, written string, figure float64) {
	s.t.Helper()
	x, err := strconv.ParseFloat(written, 64)
	unit := 1.0
	if i := strings.IndexByte(written, '.'); i >= 0 {
		unit = math.Pow(10, -float64(len(written)-i-1))
	} else if zeros := len(written) - len(strings.TrimRight(written, "0")); zeros > 0 && len(written)-zeros >= 1 {
		unit = math.Pow(10, float64(min(zeros, max(0, len(written)-2)))) // two digits count
	}
	if err != nil || !(math.Abs(x-figure) <= unit*0.5000001) {
		s.t.Errorf("%s: %s is written, %v measured, in %q", what, written, figure, s.full)
	}
}

// lasts compares a duration as written with seconds, to the minute, or second below
// 90 s.
func (s *sentence) lasts(what, written string, seconds float64) {
	s.t.Helper()
	total := 0.0
	for _, m := range regexp.MustCompile(`(\d+) (h|min|s)`).FindAllStringSubmatch(written, -1) {
		n, _ := strconv.ParseFloat(m[1], 64)
		total += n * map[string]float64{"h": 3600, "min": 60, "s": 1}[m[2]]
	}
	within := 30.0
	if strings.HasSuffix(written, " s") {
		within = 0.5
	}
	if !(math.Abs(total-seconds) <= within+1e-6) {
		s.t.Errorf("%s: %q is written, %v s measured, in %q", what, written, seconds, s.full)
	}
}

// nothingLeft demands that every number was held to a figure.
func (s *sentence) nothingLeft() {
	s.t.Helper()
	if regexp.MustCompile(`\d`).MatchString(s.left) {
		s.t.Errorf("nobody holds the numbers of %q in %q", s.left, s.full)
	}
}

const (
	lasting = `((?:\d+ h )?\d+ min|\d+ h|\d+ s)`
	decimal = `(-?\d+(?:\.\d+)?)`
)

// Every number in the sentences of the first screen is one of night.json, rounded.
func TestSentencesHoldToFigures(t *testing.T) {
	eachNight(t, func(t *testing.T, _ string, r *night.Result) {
		var d said
		if err := json.Unmarshal([]byte(render(t, JSON, r)), &d); err != nil {
			t.Fatal(err)
		}
		d.totals(t)
		for _, trouble := range d.Answer.Trouble {
			d.trouble(t, trouble)
		}
		d.poor(t)
		d.less(t)
		d.depth(t)
		for _, text := range d.Answer.Believe {
			s := take(t, text)
			if m := s.find(`^Not judged: (\d+) subs?`); m != nil {
				s.holds("not judged", m[1], float64(d.Summary.NotJudged))
				s.nothingLeft()
			}
		}
		for _, text := range d.Answer.Morning {
			d.morning(t, text)
		}
		for _, text := range d.Answer.Next {
			d.next(t, text)
		}
		for _, text := range d.Answer.Calibration {
			d.calibration(t, text)
		}
	})
}

// totals: what was shot less what is usable is what the causes cost.
func (d *said) totals(t *testing.T) {
	shot, usable, subs := 0.0, 0.0, 0
	for _, g := range d.Groups {
		shot, usable, subs = shot+g.Shot, usable+g.Usable, subs+g.Subs
		if g.Keep+g.Doubtful+g.Cull > g.Subs {
			t.Errorf("group of %d subs: %d, %d, %d", g.Subs, g.Keep, g.Doubtful, g.Cull)
		}
	}
	culled, cost, unjudged := 0, 0.0, 0.0
	for _, trouble := range d.Answer.Trouble {
		culled, cost = culled+trouble.Cull, cost+trouble.CullS
	}
	for _, s := range d.Subs {
		if s.Verdict == "not judged" && s.Exposure != nil {
			unjudged += *s.Exposure
		}
	}
	if subs != d.Summary.Subs || culled != d.Summary.Cull || !(math.Abs(shot-d.Summary.Shot) <= 1e-6) || !(math.Abs(usable-d.Summary.Usable) <= 1e-6) {
		t.Errorf("%d subs of %d, %d culled of %d, %v s shot of %v, %v s usable of %v", subs, d.Summary.Subs, culled, d.Summary.Cull, shot, d.Summary.Shot, usable, d.Summary.Usable)
	}
	if lost := shot - usable - unjudged; !(math.Abs(lost-cost) <= 1e-6) {
		t.Errorf("%v s are lost, the causes cost %v s", lost, cost)
	}
}

// led are the subs that a trouble leads.
func (d *said) led(cause string) []saidSub {
	var list []saidSub
	for _, s := range d.Subs {
		if s.Verdict != "keep" && len(s.Causes) > 0 && s.Causes[0] == cause && !s.Decided {
			list = append(list, s)
		}
	}
	return list
}

func extremes(all []saidSub, name string) (least, most float64) {
	least, most = math.Inf(1), math.Inf(-1)
	for _, s := range all {
		if v := s.measure(name); !math.IsNaN(v) {
			least, most = math.Min(least, v), math.Max(most, v)
		}
	}
	return least, most
}

func (d *said) trouble(t *testing.T, trouble saidTrouble) {
	all := d.led(trouble.Cause)
	culled, doubtful, cost := 0, 0, 0.0
	for _, s := range all {
		switch s.Verdict {
		case "cull":
			culled++
			if s.Exposure != nil {
				cost += *s.Exposure
			}
		case "doubtful":
			doubtful++
		}
	}
	if len(all) != trouble.Subs || culled != trouble.Cull || doubtful != trouble.Doubtful || !(math.Abs(cost-trouble.CullS) <= 1e-6) {
		t.Errorf("%s: %+v, in the table %d subs, %d culled, %d doubtful, %v s", trouble.Cause, trouble, len(all), culled, doubtful, cost)
	}
	s := take(t, trouble.Sentence)
	s.find(`\((no stars|truncated|same pixels|malformed)(?:[^()]|\([^()]*\))*\)`) // a sub's own sentence, which packages subs and frames hold
	s.find(`\([^()]*(not supported|malformed)(?:[^()]|\([^()]*\))*\)`)
	if m := s.find(`(\d+|C)ulled(?: \(` + lasting + `\))?`); m != nil && m[2] != "" {
		s.lasts("culled", m[2], cost)
	}
	if m := s.find(`(\d+) culled(?: \(` + lasting + `\))?`); m != nil {
		s.holds("culled", m[1], float64(culled))
		if m[2] != "" {
			s.lasts("culled", m[2], cost)
		}
	}
	if m := s.find(`(\d+) doubtful`); m != nil {
		s.holds("doubtful", m[1], float64(doubtful))
	}
	if m := s.find(`(\d+) not judged`); m != nil {
		s.holds("not judged", m[1], float64(len(all)-culled-doubtful))
	}
	if m := s.find(`^(\d+) (subs?|files?)`); m != nil {
		s.holds("subs", m[1], float64(len(all)))
	}
	d.focus(s)
	if m := s.find(`FWHM (?:up to )?` + decimal + ` px(?: \(` + decimal + `″\))?`); m != nil {
		_, px := extremes(all, "fwhm_px")
		s.holds("FWHM", m[1], px)
		if m[2] != "" {
			_, arcsec := extremes(all, "fwhm_arcsec")
			s.holds("FWHM", m[2], arcsec)
		}
	}
	if m := s.find(`; limit ` + decimal + ` px, the pixel scale being unknown`); m != nil {
		by := slices.DeleteFunc(slices.Clone(all), func(sub saidSub) bool { return math.IsNaN(sub.fact("width_limit_px", "limit_px")) })
		if 2*len(by) <= len(all) {
			s.t.Errorf("it is the limit of %d of %d: %q", len(by), len(all), s.full)
		}
		for _, sub := range by {
			s.holds("limit", m[1], sub.fact("width_limit_px", "limit_px"))
			if sub.measure("fwhm_arcsec") > 0 {
				s.t.Errorf("the scale of %s is known: %q", sub.Name, s.full)
			}
		}
	}
	if m := s.find(`stood only ` + decimal + `(?: to ` + decimal + `)?° high`); m != nil {
		s.between(m[1:], all, "target_alt_deg", 1)
	}
	if m := s.find(`ellipticity ` + decimal + `(?: to ` + decimal + `)?`); m != nil {
		s.between(m[1:], all, "ellipticity", 1)
	}
	if m := s.find(`let through ` + decimal + `(?: to ` + decimal + `)? %`); m != nil {
		s.between(m[1:], all, "transparency", 100)
	}
	if m := s.find(`the Sun at ` + decimal + `(?: to ` + decimal + `)?°`); m != nil {
		s.between(m[1:], all, "sun_alt_deg", 1)
	}
	if m := s.find(`up to ` + decimal + ` times as bright`); m != nil {
		s.brightest(m[1], all, d)
	}
	d.times(s, all)
	s.nothingLeft()
}

// between holds two numbers, or one that stands for both, to the extremes of a figure.
func (s *sentence) between(written []string, all []saidSub, name string, times float64) {
	s.t.Helper()
	least, most := extremes(all, name)
	s.holds(name, written[0], times*least)
	if written[1] == "" {
		written[1] = written[0]
	}
	s.holds(name, written[1], times*most)
}

// brightest: the sky's ratio lies between those to the faintest and to the median sky
// of the filter's subs, since the group's own baseline is not in night.json.
func (s *sentence) brightest(written string, all []saidSub, d *said) {
	s.t.Helper()
	x, _ := strconv.ParseFloat(written, 64)
	most := 0.0
	for _, bad := range all {
		var others []float64
		for _, o := range d.Subs {
			if v := o.measure("sky_adu"); o.Filter == bad.Filter && o.Target == bad.Target && v > 0 {
				others = append(others, v)
			}
		}
		if v := bad.measure("sky_adu"); len(others) > 0 && v > 0 {
			most = math.Max(most, v/slices.Min(others))
		}
	}
	if !(x > 1) || x > 1.06*most {
		s.t.Errorf("the sky %s times as bright, %v at most, in %q", written, most, s.full)
	}
}

func (d *said) focus(s *sentence) {
	m := s.find(`Focus (?:went from about|was lost at once after) (?:(\d+ \w+(?: \d{4})?) )?(\d\d:\d\d)`)
	if m == nil {
		return
	}
	for _, f := range d.Focus {
		if f.Since.UTC().Format("15:04") != m[2] {
			continue
		}
		var run []saidSub
		for _, sub := range d.Subs {
			if sub.Start != nil && !sub.Start.Before(f.Since) {
				run = append(run, sub)
			}
		}
		if m := s.find(`Refocus every ` + lasting); m != nil && f.Minutes.Value != nil {
			s.lasts("refocus", m[1], 60*math.Max(5, 5*math.Round(*f.Minutes.Value/5)))
		}
		if m := s.find(` or ` + decimal + ` °C`); m != nil && f.Degrees.Value != nil {
			s.holds("refocus", m[1], *f.Degrees.Value)
		}
		if m := s.find(`(cooled|warmed) by ` + decimal + ` °C`); m != nil {
			s.oneOf("cooled", m[2], run, func(a, b saidSub) float64 { return math.Abs(*b.Ambient - *a.Ambient) })
		}
		if m := s.find(`FWHM ` + decimal + ` to ` + decimal + ` px(?: \(` + decimal + ` to ` + decimal + `″\))?`); m != nil {
			for i, name := range []string{"fwhm_px", "fwhm_px", "fwhm_arcsec", "fwhm_arcsec"} {
				if m[i+1] != "" {
					s.oneOf(name, m[i+1], run, func(a, _ saidSub) float64 { return a.measure(name) })
				}
			}
		}
		return
	}
	s.t.Errorf("no loss of focus begins so: %q", s.full)
}

// oneOf holds a number to that of some pair of subs.
func (s *sentence) oneOf(what, written string, run []saidSub, of func(a, b saidSub) float64) {
	s.t.Helper()
	for _, a := range run {
		for _, b := range run {
			if strconv.FormatFloat(of(a, b), 'f', 1, 64) == written {
				return
			}
		}
	}
	s.t.Errorf("%s: no sub has %s, in %q", what, written, s.full)
}

// times: each is the start or the end of a sub that the trouble leads.
func (d *said) times(s *sentence, all []saidSub) {
	s.t.Helper()
	known := map[string]bool{}
	for _, sub := range all {
		if sub.Start == nil {
			continue
		}
		end := *sub.Start
		if sub.Exposure != nil {
			end = end.Add(time.Duration(*sub.Exposure * float64(time.Second)))
		}
		for _, at := range []time.Time{sub.Start.UTC(), end.UTC()} {
			for _, layout := range []string{"15:04", "2 Jan 15:04", "2 Jan 2006 15:04"} {
				known[at.Format(layout)] = true
			}
		}
	}
	if m := s.find(`in (\d+) spells`); m != nil {
		if n, _ := strconv.Atoi(m[1]); n < 4 || n > len(all) {
			s.t.Errorf("%s spells of %d subs", m[1], len(all))
		}
	}
	for {
		m := s.find(`(?:(?:\d+ \w{3} )?(?:\d{4} )?)\d\d:\d\d`)
		if m == nil {
			return
		}
		if !known[m[0]] {
			s.t.Errorf("no sub begins or ends at %q, in %q", m[0], s.full)
		}
	}
}

func (d *said) poor(t *testing.T) {
	s := take(t, d.Answer.Poor)
	if m := s.find(`(\d+) of (\d+) subs`); m != nil {
		s.holds("judged", m[2], float64(d.Summary.Subs-d.Summary.NotJudged))
		n := 0
		for _, trouble := range d.Answer.Trouble {
			if fmt.Sprint(trouble.Subs) == m[1] {
				n++
			}
		}
		if n == 0 {
			t.Errorf("no trouble leads %s subs: %q", m[1], s.full)
		}
		s.nothingLeft()
	}
}

func (d *said) less(t *testing.T) {
	s := take(t, d.Answer.Less)
	m := s.find(`^The ` + lasting + ` that stay are worth ` + lasting)
	if m == nil {
		return
	}
	usable, clear := 0.0, 0.0
	var stay []saidSub
	for _, g := range d.Groups {
		if g.Clear != nil && *g.Clear > 0 {
			usable, clear = usable+g.Usable, clear+*g.Clear
		}
	}
	for _, sub := range d.Subs {
		if sub.Verdict == "keep" || sub.Verdict == "doubtful" {
			stay = append(stay, sub)
		}
	}
	s.lasts("usable", m[1], usable)
	s.lasts("clear", m[2], clear)
	if m := s.find(`up to ` + decimal + ` times as bright`); m != nil {
		s.brightest(m[1], stay, d)
	}
	if m := s.find(`the Moon at ` + decimal + `°`); m != nil {
		_, most := extremes(stay, "moon_alt_deg")
		if x, _ := strconv.ParseFloat(m[1], 64); x > most+0.5 {
			t.Errorf("the Moon is never higher than %v: %q", most, s.full)
		}
	}
	if m := s.find(`down to ` + decimal + ` %`); m != nil {
		least, _ := extremes(stay, "transparency")
		s.holds("transparency", m[1], 100*least)
	}
	s.nothingLeft()
}

func (d *said) depth(t *testing.T) {
	for _, part := range strings.Split(strings.TrimSuffix(d.Answer.Depth, "."), "; ") {
		s := take(t, part)
		for _, g := range d.Groups {
			if g.Filter != "" && !strings.HasPrefix(part, g.Filter+" had") && !strings.HasPrefix(part, g.Target+" "+g.Filter+" had") {
				continue
			}
			if m := s.find(`a sky of ` + decimal + ` mag/arcsec²`); m != nil && g.Season.Sky.Value != nil {
				s.holds("sky", m[1], *g.Season.Sky.Value)
			}
			if m := s.find(`stars of ` + decimal + ` mag`); m != nil && g.Season.Limit.Value != nil {
				s.holds("limit", m[1], *g.Season.Limit.Value)
			}
		}
	}
}

func (d *said) morning(t *testing.T, text string) {
	s := take(t, text)
	switch {
	case strings.Contains(text, "to move aside"):
		s.holds("cull", s.find(`^(\d+)`)[1], float64(d.Summary.Cull))
	case strings.HasPrefix(text, "Nothing to move"):
		if d.Summary.Cull > 0 {
			t.Errorf("%d are to be culled: %q", d.Summary.Cull, text)
		}
	case strings.Contains(text, "doubtful"):
		s.holds("doubtful", s.find(`^(\d+)`)[1], float64(d.Summary.Doubtful))
	case strings.HasPrefix(text, "Register on"):
		for _, name := range regexp.MustCompile(`\S+\.fits?(\.\w+)?`).FindAllString(s.full, -1) {
			s.left = strings.Replace(s.left, name, "", 1)
			if !slices.ContainsFunc(d.Subs, func(sub saidSub) bool { return strings.HasSuffix(sub.Name, name) && sub.Verdict == "keep" }) {
				t.Errorf("%s is not kept", name)
			}
		}
	default:
		d.layer(s)
	}
	s.nothingLeft()
}

func (d *said) layer(s *sentence) {
	m := s.find(`culling (\d+) of (\d+) takes ` + decimal + ` % of the signal to noise; stack the (\d+) soft ones`)
	for _, g := range d.Groups {
		e := g.Economics
		if m == nil || !strings.HasPrefix(s.full, strings.TrimSpace(g.Target+" "+g.Filter)) || fmt.Sprint(e.UserDrop) != m[1] {
			continue
		}
		s.left = strings.TrimPrefix(strings.TrimPrefix(s.left, g.Target), " "+g.Filter)
		if m := s.find(`^ ` + decimal + ` s:`); m != nil && m[1] != fmt.Sprintf("%g", g.Exposure) {
			continue
		}
		s.holds("stacked", m[2], float64(e.Stacked))
		s.holds("loss", m[3], 100*(1-*e.UserWeighted/e.Weighted[0]))
		soft := 0
		for _, sub := range d.led("soft") {
			if sub.Verdict == "cull" && len(sub.Causes) == 1 && sub.Target == g.Target && sub.Filter == g.Filter && *sub.Exposure == g.Exposure {
				soft++
			}
		}
		s.holds("soft", m[4], float64(soft))
		return
	}
	s.t.Errorf("no group has this: %q", s.full)
}

func (d *said) next(t *testing.T, text string) {
	s := take(t, text)
	if strings.HasPrefix(text, "No goals") || strings.HasPrefix(text, "Focuser:") {
		return
	}
	if m := s.find(`^Exposures to keep: (.*)\.$`); m != nil {
		for _, part := range regexp.MustCompile(`, | and `).Split(m[1], -1) {
			d.exposure(take(t, part), `^(.+?) `+decimal+` s`, false)
		}
		return
	}
	d.exposure(s, `^(.*): (?:`+decimal+` to )?`+decimal+` s (?:instead of|do as well as) `+decimal+` s`, true)
}

// exposure holds a sentence to one of the exposures that it can be about.
func (d *said) exposure(s *sentence, pattern string, other bool) {
	s.t.Helper()
	m := s.find(pattern)
	if m == nil {
		s.t.Errorf("what does %q say?", s.full)
		return
	}
	for _, e := range d.Exposures {
		name := e.Filter
		if name == "" {
			name = "no filter"
		}
		now := m[len(m)-1]
		if e.Current == nil || e.From == nil || !strings.HasSuffix(m[1], name) || fmt.Sprintf("%g", *e.Current) != now {
			continue
		}
		if other {
			s.holds("longest", m[3], *e.To)
			if m[2] != "" {
				s.holds("shortest", m[2], *e.From)
			}
		} else if *e.Current < 0.99**e.From || *e.Current > 1.01**e.To {
			s.t.Errorf("%q: %v to %v s are advised", s.full, *e.From, *e.To)
		}
		if m := s.find(`give ` + decimal + ` % more`); m != nil {
			s.holds("gain", m[1], 100**e.Gain)
		}
		if m := s.find(`read noise adds ` + decimal + ` %`); m != nil {
			s.holds("read noise", m[1], 100**e.Share.Value)
		}
		if m := s.find(`the ` + decimal + ` s between subs take ` + decimal + ` %`); m != nil {
			s.holds("gap", m[1], *e.Gap.Value)
			s.holds("share", m[2], 100**e.Gap.Value/(*e.Gap.Value+*e.Current))
		}
		if m := s.find(`up to ` + decimal + ` s`); m != nil {
			s.holds("longest", m[1], *e.To)
		}
		if m := s.find(`some ` + decimal + ` s hardly better`); m != nil {
			s.holds("best", m[1], *e.Best.Value)
		}
		s.nothingLeft()
		return
	}
	s.t.Errorf("no exposure is so: %q", s.full)
}

// calibration: each number is one that stands in the figures on darks, dust and
// calibration frames to shoot, names apart.
func (d *said) calibration(t *testing.T, text string) {
	s := take(t, text)
	var known []float64
	var names []string
	var walk func(v any)
	walk = func(v any) {
		switch v := v.(type) {
		case float64:
			known = append(known, v, -v)
		case []any:
			known = append(known, float64(len(v)))
			for _, x := range v {
				walk(x)
			}
		case map[string]any:
			for key, x := range v {
				if text, ok := x.(string); ok && (key == "group" || key == "flat" || key == "filter") {
					names = append(names, take(t, text).full)
					continue
				}
				walk(x)
			}
		}
	}
	for _, part := range [][]map[string]any{d.Worth, d.Dust, d.Shopping} {
		for _, x := range part {
			walk(x)
		}
	}
	for _, sub := range d.Subs {
		names = append(names, sub.Filter)
	}
	known = append(known, float64(len(d.Subs)), float64(d.Summary.Subs-d.Summary.Cull))
	slices.SortFunc(names, func(a, b string) int { return len(b) - len(a) })
	for _, name := range names {
		if name != "" {
			s.left = strings.ReplaceAll(s.left, name, " ")
		}
	}
	for _, written := range regexp.MustCompile(decimal).FindAllString(s.left, -1) {
		x, _ := strconv.ParseFloat(written, 64)
		if !slices.ContainsFunc(known, func(v float64) bool { return math.Abs(v-x) <= math.Max(0.051, 0.051*math.Abs(x)) }) {
			t.Errorf("no figure is %s, in %q", written, s.full)
		}
	}
}
