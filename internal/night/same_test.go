package night_test

import (
	"context"
	"path/filepath"
	"testing"

	"fitsqa/internal/cache"
	"fitsqa/internal/demo"
	"fitsqa/internal/night"
)

// However many frames are worked on at once, the reports are the same to the
// byte.
func TestWorkersChangeNothing(t *testing.T) {
	t.Parallel()
	sc, _ := demo.ScenarioNamed("clear")
	sc.Width, sc.Height, sc.Bias, sc.Stars = 320, 240, 11, 220
	sc.Darks = []demo.DarkSet{{TempC: -10, Exposure: 60, Frames: 10}, {TempC: -10, Exposure: 180, Frames: 3}}
	sc.Blocks = []demo.Block{{Filter: "L", Exposure: 60, Subs: 7}, {Filter: "Ha", Exposure: 180, Subs: 3}}
	sc.Streaks = []int{2}
	dir := filepath.Join(t.TempDir(), "night")
	if _, err := demo.Write(context.Background(), dir, sc, nil); err != nil {
		t.Fatal(err)
	}
	store, err := cache.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	var want map[string]string
	for _, c := range []struct {
		workers int
		store   *cache.Store
	}{{1, nil}, {8, store}, {3, store}} {
		if testing.Short() && c.workers == 3 {
			continue
		}
		s := night.DefaultSettings()
		s.Workers, s.Cache = c.workers, c.store
		got := reports(t, dir, s)
		if want == nil {
			want = got
		}
		for name := range want {
			if got[name] != want[name] {
				t.Errorf("%d workers, cache %v: %s differs from that of one worker\n%s", c.workers, c.store != nil, name, firstDifference(got[name], want[name]))
			}
		}
	}
}
