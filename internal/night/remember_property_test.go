package night_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"fitsqa/internal/cache"
	"fitsqa/internal/demo"
	"fitsqa/internal/night"
	"fitsqa/internal/report"
)

// changingNight is a night's folder that a test changes between runs.
type changingNight struct {
	t     *testing.T
	dir   string
	aside string
	rng   *rand.Rand
	n     int // changes so far
}

// files are those of the night whose path holds a word.
func (c *changingNight) files(root, word string) []string {
	var all []string
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() && strings.Contains(path, word) {
			all = append(all, path)
		}
		return err
	})
	if err != nil {
		c.t.Fatal(err)
	}
	slices.Sort(all)
	return all
}

func (c *changingNight) must(err error) {
	c.t.Helper()
	if err != nil {
		c.t.Fatal(err)
	}
}

// move takes up to n files whose path holds a word from one folder to the
// other: away from the night, or back.
func (c *changingNight) move(from, to, word string, n int) {
	files := c.files(from, word)
	c.rng.Shuffle(len(files), func(i, j int) { files[i], files[j] = files[j], files[i] })
	for _, f := range files[:min(n, len(files))] {
		rel, err := filepath.Rel(from, f)
		c.must(err)
		c.must(os.MkdirAll(filepath.Dir(filepath.Join(to, rel)), 0o755))
		c.must(os.Rename(f, filepath.Join(to, rel)))
	}
}

// header changes the value of a keyword in some files, in place: size and time
// of the last change stay as they were.
func (c *changingNight) header(word, key, value string, n int) {
	files := c.files(c.dir, word)
	c.rng.Shuffle(len(files), func(i, j int) { files[i], files[j] = files[j], files[i] })
	for _, f := range files[:min(n, len(files))] {
		c.rewrite(f, func(raw []byte) {
			at := bytes.Index(raw, fmt.Appendf(nil, "%-8s=", key))
			if at < 0 || at%80 != 0 {
				c.t.Fatalf("no %s in %s", key, f)
			}
			copy(raw[at+10:at+80], fmt.Sprintf("%-70s", value))
		})
	}
}

// pixels raises some samples in the middle of some files, as header does.
func (c *changingNight) pixels(word string, n int) {
	files := c.files(c.dir, word)
	for _, f := range files[:min(n, len(files))] {
		c.rewrite(f, func(raw []byte) {
			for i := len(raw)/2 | 1; i < len(raw)/2+2000; i += 2 {
				raw[i] ^= 8
			}
		})
	}
}

func (c *changingNight) rewrite(path string, change func([]byte)) {
	info, err := os.Stat(path)
	c.must(err)
	raw, err := os.ReadFile(path)
	c.must(err)
	change(raw)
	c.must(os.WriteFile(path, raw, 0o644))
	c.must(os.Chtimes(path, info.ModTime(), info.ModTime()))
}

// rename gives files new names: another order.
func (c *changingNight) rename(word string, n int) {
	for _, f := range c.files(c.dir, word)[:n] {
		c.n++
		c.must(os.Rename(f, filepath.Join(filepath.Dir(f), fmt.Sprintf("z%03d_%s", c.n, filepath.Base(f)))))
	}
}

// spoil changes a bit in each of some files.
func (c *changingNight) spoil(files []string) {
	for i, f := range files {
		c.rewrite(f, func(raw []byte) { raw[i*7919%len(raw)] ^= 0x20 })
	}
}

// reports are all reports of a run but its time.
func reports(t *testing.T, dir string, s night.Settings) map[string]string {
	t.Helper()
	r, err := night.Run(context.Background(), []string{dir}, s, nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Finished, r.Settings.Workers = time.Unix(0, 0).UTC(), 1 // what may differ
	all := map[string]string{}
	for name, write := range map[string]func(io.Writer, *night.Result) error{
		"subs.csv": report.SubsCSV, "calibration.csv": report.CalibrationCSV, "report.txt": report.Text,
		"night.json": report.JSON, "report.html": report.HTML, "pictures": pictures,
	} {
		var b bytes.Buffer
		if err := write(&b, r); err != nil {
			t.Fatal(err)
		}
		all[name] = b.String()
	}
	return all
}

// pictures writes the checksum of all subs' small pictures.
func pictures(w io.Writer, r *night.Result) error {
	h := sha256.New()
	add := func(pixels []float32, place ...int) {
		fmt.Fprintln(h, place)
		_ = binary.Write(h, binary.LittleEndian, pixels) // a checksum takes everything
	}
	for _, s := range r.Subs {
		p := s.Preview()
		add(p.Pixels, p.Width, p.Height, p.Step)
		for _, c := range p.Crops {
			add(c.Pixels, c.X, c.Y, c.Width, c.Height)
		}
	}
	_, err := fmt.Fprintf(w, "%x", h.Sum(nil))
	return err
}

// firstDifference shows where two texts part.
func firstDifference(a, b string) string {
	i := 0
	for i < min(len(a), len(b)) && a[i] == b[i] {
		i++
	}
	around := func(s string) string { return s[max(0, i-200):min(len(s), i+100)] }
	return fmt.Sprintf("one: ...%s...\nother: ...%s...", around(a), around(b))
}

// However a night grows, shrinks, is renamed, relabelled or recalibrated
// between runs, and with whatever settings: a run that remembers the ones
// before gives to the byte what one without memory gives.
func TestWhatIsRememberedIsTrue(t *testing.T) {
	if testing.Short() {
		t.Skip("some twenty runs")
	}
	t.Parallel()
	sc, _ := demo.ScenarioNamed("clear")
	sc.Width, sc.Height, sc.Bias, sc.Stars = 200, 160, 5, 110
	sc.Darks = []demo.DarkSet{{TempC: -10, Exposure: 60, Frames: 4}, {TempC: -10, Exposure: 180, Frames: 3}}
	sc.Blocks = []demo.Block{{Filter: "L", Exposure: 60, Subs: 5}, {Filter: "Ha", Exposure: 180, Subs: 4}}
	sc.Streaks = []int{2}
	base := t.TempDir()
	c := &changingNight{t: t, dir: filepath.Join(base, "night"), aside: filepath.Join(base, "aside"), rng: rand.New(rand.NewPCG(1, 2))}
	if _, err := demo.Write(context.Background(), c.dir, sc, nil); err != nil {
		t.Fatal(err)
	}
	c.must(os.MkdirAll(c.aside, 0o755))
	c.move(c.dir, c.aside, "Ha", 8) // the flats too
	settings := night.DefaultSettings()

	away := func(word string, n int) func() { return func() { c.move(c.dir, c.aside, word, n) } }
	back := func(word string, n int) func() { return func() { c.move(c.aside, c.dir, word, n) } }
	steps := []struct {
		what   string
		change func() // nil: none of what is measured
	}{
		{"first run", func() {}},
		{"nothing changed", nil},
		{"all that is remembered is spoilt", nil},
		{"subs that a scaled dark fits come", back("Ha", 2)},
		{"more of them", back("Ha", 2)},
		{"darks go", away("darks", 4)},
		{"all darks go", away("darks", 9)},
		{"subs shrink", away("lights", 3)},
		{"darks come back", back("darks", 9)},
		{"subs come back", back("lights", 9)},
		{"flats come", back("Ha", 9)},
		{"a bias is touched inside", func() { c.pixels("bias", 1) }},
		{"subs at another gain", func() { c.header("lights", "GAIN", "                 120", 3) }},
		{"another target's name", func() { c.header("lights", "OBJECT", "'Other Place'", 3) }},
		{"another filter on flats", func() { c.header("flats", "FILTER", "'R'", 2) }},
		{"subs renamed", func() { c.rename("lights", 4) }},
		{"calibration renamed", func() { c.rename("bias", 2) }},
		{"a sub's pixels", func() { c.pixels("lights", 2) }},
		{"darks at another temperature", func() { c.header("darks", "SET-TEMP", "                 -4.0", 3) }},
		{"subs of another temperature", func() { c.header("lights", "CCD-TEMP", "                 -4.3", 5) }},
		{"another threshold", func() { settings.Stars.Threshold = 6 }},
		{"another temperature tolerance", func() { settings.Calib.TempTolC = 20 }},
		{"one worker", nil},
	}
	store := t.TempDir()
	entries := func() []string { return c.files(store, ".entry") }
	filled := 0
	var want map[string]string
	for i, s := range steps {
		if s.change != nil {
			s.change()
			settings.Cache = nil
			want = reports(t, c.dir, settings)
		}
		if i == len(steps)-1 {
			settings.Workers = 1
		}
		var err error
		if settings.Cache, err = cache.Open(store); err != nil {
			t.Fatal(err)
		}
		got := reports(t, c.dir, settings)
		for name := range want {
			if got[name] != want[name] {
				t.Errorf("%s: %s differs from that of a run without memory\n%s", s.what, name, firstDifference(got[name], want[name]))
			}
		}
		switch i {
		case 0:
			if filled = len(entries()); filled == 0 {
				t.Error("the cache is empty")
			}
		case 1:
			if n := len(entries()); n != filled {
				t.Errorf("a second run made %d entries", n-filled)
			}
			c.spoil(entries())
		}
		if t.Failed() {
			return
		}
	}
}
