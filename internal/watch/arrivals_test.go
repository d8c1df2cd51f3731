package watch

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"testing"
	"time"

	"fitsqa/internal/demo"
	"fitsqa/internal/night"
)

// small is a night of tiny frames.
func small(t *testing.T, sc demo.Scenario) (dir string, truth *demo.Truth) {
	t.Helper()
	sc.Name, sc.Summary, sc.Seed = "small", "small", 5
	sc.Width, sc.Height = 320, 240
	sc.Targets = []demo.Target{{Name: "Heron Nebula", RA: 85, Dec: 24}}
	sc.Start = time.Date(2025, 10, 21, 3, 40, 0, 0, time.UTC)
	sc.Stars, sc.SkyMag, sc.Seeing, sc.DitherPx = 300, 19.5, 3, 6
	dir = filepath.Join(t.TempDir(), "night")
	truth, err := demo.Write(t.Context(), dir, sc, nil)
	if err != nil {
		t.Fatal(err)
	}
	return dir, truth
}

// path of a sub of the truth.
func path(dir string, s demo.Sub) string { return filepath.Join(dir, filepath.FromSlash(s.File)) }

// What a sub costs, and what the watch holds, does not grow with the night: late
// subs are held against those of a night's beginning. FITSQA_ARRIVALS=2000 is as
// many as days bring.
func TestManyArrivals(t *testing.T) {
	n, err := strconv.Atoi(os.Getenv("FITSQA_ARRIVALS"))
	if err != nil || n < night.RecentSubs+50 {
		t.Skip("measures so many subs as FITSQA_ARRIVALS says: minutes")
	}
	dir, truth := small(t, demo.Scenario{Bias: 2, Blocks: []demo.Block{{Filter: "L", Exposure: 60, Subs: 1}}})
	frame, err := os.ReadFile(path(dir, truth.Subs[0]))
	if err != nil {
		t.Fatal(err)
	}
	at := bytes.Index(frame, []byte("DATE-OBS= '")) + len("DATE-OBS= '")
	f, err := night.NewFollow([]string{dir}, night.DefaultSettings())
	if err != nil {
		t.Fatal(err)
	}
	cost := make([]time.Duration, n)
	held := make([]uint64, n)
	for i := range n {
		start := truth.Subs[0].Start.Add(time.Duration(i) * 66 * time.Second)
		copy(frame[at:], start.Format("2006-01-02T15:04:05"))
		name := filepath.Join(dir, fmt.Sprintf("sub_%04d.fits", i))
		if err := os.WriteFile(name, frame, 0o644); err != nil {
			t.Fatal(err)
		}
		begun := time.Now()
		subs, err := f.Read(t.Context(), []string{name})
		if err != nil || len(subs) != 1 {
			t.Fatalf("%d subs, %v", len(subs), err)
		}
		if err := f.Measure(t.Context(), subs[0]); err != nil {
			t.Fatal(err)
		}
		if m := f.Judge(); m.Seen[len(m.Seen)-1].Path != name {
			t.Fatalf("the latest is %s", m.Seen[len(m.Seen)-1].Path)
		}
		cost[i] = time.Since(begun)
		if i%50 == 49 {
			runtime.GC()
			var mem runtime.MemStats
			runtime.ReadMemStats(&mem)
			held[i] = mem.HeapAlloc
		}
	}
	full, last := night.RecentSubs-1, n-n%50-1
	t.Logf("after %d subs: %d KiB held, %v a sub; after %d: %d KiB, %v", full+1, held[full]>>10, mean(cost[full-49:full+1]), last+1, held[last]>>10, mean(cost[last-49:last+1]))
	// A tenth is what the collector leaves one way or the other.
	if float64(held[last]) > 1.1*float64(held[full])+float64(1<<20) {
		t.Errorf("memory grows: %d KiB after %d subs, %d KiB after %d", held[full]>>10, full+1, held[last]>>10, last+1)
	}
}

func mean(list []time.Duration) time.Duration {
	var sum time.Duration
	for _, d := range list {
		sum += d
	}
	return (sum / time.Duration(len(list))).Round(10 * time.Microsecond)
}
