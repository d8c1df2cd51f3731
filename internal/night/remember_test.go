package night_test

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fitsqa/internal/cache"
	"fitsqa/internal/demo"
	"fitsqa/internal/night"
	"fitsqa/internal/report"
)

// A second run, a run with subs added, and a run over a wrecked cache must give
// to the byte what a run without a cache gives.
func TestRememberedNightIsTheSame(t *testing.T) {
	if testing.Short() {
		t.Skip("nine runs; TestWorkersChangeNothing has two with a cache")
	}
	sc, ok := demo.ScenarioNamed("clear")
	if !ok {
		t.Fatal("no such scenario")
	}
	t.Parallel()
	sc.Width, sc.Height, sc.Stars, sc.Bias, sc.Streaks = 280, 220, 180, 3, []int{3}
	sc.Darks, sc.FlatLevels = []demo.DarkSet{{TempC: -10, Exposure: 60, Frames: 3}}, []float64{0.4}
	sc.Blocks = []demo.Block{{Filter: "L", Exposure: 60, Subs: 5}, {Filter: "Ha", Exposure: 180, Subs: 3}}
	dir := filepath.Join(t.TempDir(), "night")
	if _, err := demo.Write(context.Background(), dir, sc, nil); err != nil {
		t.Fatal(err)
	}
	cacheDir := t.TempDir()
	csv := func(remember bool) string {
		t.Helper()
		s := night.DefaultSettings()
		if remember {
			var err error
			if s.Cache, err = cache.Open(cacheDir); err != nil {
				t.Fatal(err)
			}
		}
		r, err := night.Run(context.Background(), []string{dir}, s, nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Finished = time.Time{}
		var out bytes.Buffer
		for _, write := range []func(*bytes.Buffer) error{
			func(b *bytes.Buffer) error { return report.SubsCSV(b, r) },
			func(b *bytes.Buffer) error { return report.CalibrationCSV(b, r) },
			func(b *bytes.Buffer) error { return report.Text(b, r) },
			func(b *bytes.Buffer) error { return report.HTML(b, r) },
		} {
			if err := write(&out); err != nil {
				t.Fatal(err)
			}
		}
		return out.String()
	}
	entries := func() []string {
		names, err := filepath.Glob(filepath.Join(cacheDir, "*.entry"))
		if err != nil || len(names) == 0 {
			t.Fatal("the cache is empty: ", err)
		}
		return names
	}

	fresh := csv(false)
	if csv(true) != fresh {
		t.Error("the run that fills the cache differs from one without")
	}
	filled := len(entries())
	if csv(true) != fresh {
		t.Error("the remembered run differs")
	}
	if n := len(entries()); n != filled {
		t.Errorf("a second run made %d entries", n-filled)
	}

	// A sub taken away and put back: nothing but its own entry is used anew.
	var subs []string
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() && strings.Contains(path, "lights") {
			subs = append(subs, path)
		}
		return err
	})
	if err != nil || len(subs) < 2 {
		t.Fatal("no subs: ", err)
	}
	aside := filepath.Join(t.TempDir(), "aside.fits")
	if err := os.Rename(subs[0], aside); err != nil {
		t.Fatal(err)
	}
	without := csv(false)
	if csv(true) != without {
		t.Error("the remembered run with a sub less differs")
	}
	if err := os.Rename(aside, subs[0]); err != nil {
		t.Fatal(err)
	}
	if csv(true) != fresh {
		t.Error("the remembered run with the sub back differs")
	}

	for i, name := range entries() {
		raw, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		raw[(i*7919)%len(raw)] ^= 0x20
		if err := os.WriteFile(name, raw, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if csv(true) != fresh {
		t.Error("a wrecked cache was trusted")
	}
}
