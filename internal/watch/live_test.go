package watch

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"fitsqa/internal/cache"
	"fitsqa/internal/demo"
	"fitsqa/internal/night"
)

// live is a watch that a test feeds.
type live struct {
	t      *testing.T
	mu     sync.Mutex
	lines  []string
	alerts []Alert
	wrote  int // reports
	stop   context.CancelFunc
	done   chan error
}

// verdictsOf are verdict and causes by file.
func verdictsOf(r *night.Result) map[string]string {
	all := map[string]string{}
	for _, s := range r.Subs {
		all[s.File] = string(s.Verdict)
		for _, c := range s.Causes {
			all[s.File] += " " + string(c)
		}
	}
	return all
}

func startLive(t *testing.T, dir string, s night.Settings, notify bool) *live {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	l := &live{t: t, stop: stop, done: make(chan error, 1)}
	o := options{Roots: []string{dir}, Settings: s, Notify: notify,
		Rest: 300 * time.Millisecond, Patience: 8 * time.Second, Poll: 300 * time.Millisecond, Every: 200 * time.Millisecond,
		Begun: func() {},
		Line:  func(text string) { l.mu.Lock(); l.lines = append(l.lines, text); l.mu.Unlock() },
		Sub: func(s night.Seen, _ night.LocalTime) {
			l.mu.Lock()
			defer l.mu.Unlock()
			l.lines = append(l.lines, fmt.Sprintf("%s %03d: %s, %s, %v", s.Filter, s.Number, s.File, s.Verdict, s.Transparency.Ratio.OK()))
		},
		Alert: func(a Alert) { l.mu.Lock(); l.alerts = append(l.alerts, a); l.mu.Unlock() },
		Room:  func(string) int64 { return 1 << 40 },
		Report: func(ctx context.Context) error {
			_, err := night.Run(ctx, []string{dir}, s, nil)
			l.mu.Lock()
			l.wrote++
			l.mu.Unlock()
			return err
		},
	}
	go func() { l.done <- Run(ctx, o) }()
	return l
}

// subLines are the lines told of subs.
func (l *live) subLines() []string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return slices.DeleteFunc(slices.Clone(l.lines), func(s string) bool { return !strings.Contains(s, ": ") })
}

// await waits until so many subs were told of.
func (l *live) await(n int) {
	l.t.Helper()
	for until := time.Now().Add(2 * time.Minute); len(l.subLines()) < n; time.Sleep(20 * time.Millisecond) {
		if time.Now().After(until) {
			l.t.Fatalf("%d lines of %d:\n%s", len(l.subLines()), n, strings.Join(l.subLines(), "\n"))
		}
	}
}

func (l *live) end() {
	l.t.Helper()
	l.stop()
	if err := <-l.done; err != nil {
		l.t.Fatal(err)
	}
}

// A night that comes file by file, halves first, under other names, with times of
// the past, is told sub by sub, each once, and ends with the verdicts of a run over
// the whole of it.
func TestWatchEndsLikeARun(t *testing.T) {
	if testing.Short() {
		t.Skip("nine subs and two runs after them; TestWatch of the command has four")
	}
	t.Parallel()
	made, truth := small(t, demo.Scenario{Bias: 3, Blocks: []demo.Block{{Filter: "L", Exposure: 60, Subs: 9}},
		Clouds: []demo.Cloud{{Span: demo.Span{First: 6, Last: 7}, Magnitudes: 2, Uneven: 0.3, Glow: 1, Flat: true}}})
	dir := filepath.Join(t.TempDir(), "live")
	if err := os.Rename(filepath.Join(made, "bias"), mkdirs(t, dir, "bias")); err != nil {
		t.Fatal(err)
	}
	s := night.DefaultSettings()
	s.Cache, _ = cache.Open(t.TempDir())
	l := startLive(t, dir, s, true)
	for i, sub := range truth.Subs {
		content, err := os.ReadFile(path(made, sub))
		if err != nil {
			t.Fatal(err)
		}
		to := filepath.Join(dir, filepath.FromSlash(sub.File))
		mkdirs(t, filepath.Dir(to), "")
		name := to
		if i%3 == 1 { // written under a name that is none of a frame
			name = to + ".part"
		}
		write := func(n int) {
			if err := os.WriteFile(name, content[:n], 0o644); err != nil {
				t.Fatal(err)
			}
		}
		switch {
		case i == 2: // stalls for longer than a file rests
			write(len(content) / 2)
			time.Sleep(700 * time.Millisecond)
		case i%3 == 0:
			write(2000)
			time.Sleep(50 * time.Millisecond)
			write(len(content) / 3)
			time.Sleep(50 * time.Millisecond)
		}
		write(len(content))
		if name != to {
			if err := os.Rename(name, to); err != nil {
				t.Fatal(err)
			}
		}
		if i == 4 { // a synchroniser sets the time when all is there, and once more when it was read
			past := time.Now().Add(-time.Hour)
			if err := os.Chtimes(to, past, past); err != nil {
				t.Fatal(err)
			}
		}
		l.await(i + 1)
		if i == 4 {
			past := time.Now().Add(-2 * time.Hour)
			if err := os.Chtimes(to, past, past); err != nil {
				t.Fatal(err)
			}
		}
		if i == 5 { // renamed when it was told of
			if err := os.Rename(to, filepath.Join(filepath.Dir(to), "renamed.fits")); err != nil {
				t.Fatal(err)
			}
		}
	}
	// One that never gets whole is told at last.
	last := filepath.Join(dir, "cut.fits")
	content, _ := os.ReadFile(path(made, truth.Subs[0]))
	if err := os.WriteFile(last, content[:len(content)/2], 0o644); err != nil {
		t.Fatal(err)
	}
	l.await(len(truth.Subs) + 1)
	l.end()

	lines := l.subLines()
	if len(lines) != len(truth.Subs)+1 {
		t.Errorf("%d lines of %d subs:\n%s", len(lines), len(truth.Subs)+1, strings.Join(lines, "\n"))
	}
	if !strings.Contains(lines[len(lines)-1], "cut.fits, cull") {
		t.Errorf("the cut file: %s", lines[len(lines)-1])
	}
	if kinds := kindsOf(l.alerts); !slices.Equal(kinds, []Kind{Cloud}) {
		t.Errorf("alerts %v", l.alerts)
	}
	if l.wrote == 0 {
		t.Error("no reports while it went on")
	}
	// The end is a run over the same folder: from what was measured once, and anew.
	known, err := night.Run(t.Context(), []string{dir}, s, nil)
	if err != nil {
		t.Fatal(err)
	}
	s.Cache = nil
	anew, err := night.Run(t.Context(), []string{dir}, s, nil)
	if err != nil {
		t.Fatal(err)
	}
	a, b := verdictsOf(known), verdictsOf(anew)
	if len(a) != len(truth.Subs)+1 || len(a) != len(b) {
		t.Fatalf("%d subs, %d anew", len(a), len(b))
	}
	for file, v := range a {
		if b[file] != v {
			t.Errorf("%s: %s, anew %s", file, v, b[file])
		}
	}
}

// What is there already is reported at once and told of in one line; folders that
// send no word are looked at.
func TestWatchBeginsWithWhatIsThere(t *testing.T) {
	t.Parallel()
	dir, truth := small(t, demo.Scenario{Bias: 2, Blocks: []demo.Block{{Filter: "L", Exposure: 60, Subs: 4}}})
	aside := filepath.Join(t.TempDir(), "later.fits")
	late := path(dir, truth.Subs[3])
	if err := os.Rename(late, aside); err != nil {
		t.Fatal(err)
	}
	past := time.Now().Add(-time.Hour)
	for _, sub := range truth.Subs[:3] {
		if err := os.Chtimes(path(dir, sub), past, past); err != nil {
			t.Fatal(err)
		}
	}
	l := startLive(t, dir, night.DefaultSettings(), false)
	for until := time.Now().Add(time.Minute); ; time.Sleep(20 * time.Millisecond) {
		l.mu.Lock()
		begun := l.wrote > 0
		l.mu.Unlock()
		if begun || time.Now().After(until) {
			break
		}
	}
	if err := os.Rename(aside, late); err != nil {
		t.Fatal(err)
	}
	l.await(1)
	l.end()
	lines := l.subLines()
	if len(lines) != 1 || !strings.Contains(lines[0], "L 004: ") || !strings.HasSuffix(lines[0], "true") {
		t.Errorf("%q", lines)
	}
	if l.wrote == 0 || !strings.HasPrefix(l.lines[0], "Begins with ") {
		t.Errorf("%d reports, first line %q", l.wrote, l.lines[0])
	}
}

// mkdirs makes the folders above a path and gives it.
func mkdirs(t *testing.T, dir, name string) string {
	t.Helper()
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	return filepath.Join(dir, name)
}
