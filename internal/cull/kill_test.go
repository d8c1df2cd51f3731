package cull

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
)

var errStop = errors.New("stopped here")

// stopAt makes a worker stop before its k-th step.
func stopAt(out string, k int) *Worker {
	n := 0
	return &Worker{OutDir: out, pause: func(string) error {
		if n++; n > k {
			return errStop
		}
		return nil
	}}
}

// Stopped before any step, nothing is lost, and both ways lead on from there:
// undo brings all back, another apply completes the move.
func TestStopAtEveryStep(t *testing.T) {
	names := []string{"a", "b", "c", "d"}
	for k := 0; ; k++ {
		out, subs := makeNight(t, names)
		plan, err := NewPlan(subs, Selection{Take: TakeCull})
		must(t, err)
		done, err := stopAt(out, k).Apply(context.Background(), plan)
		if err != nil && !errors.Is(err, errStop) {
			t.Fatal(err)
		}
		wantPlaces(t, subs, len(done.Moved))
		if k%2 == 0 {
			undoFully(t, out, subs)
		} else {
			rest, planErr := NewPlan(subs, Selection{Take: TakeCull})
			must(t, planErr)
			if _, err := (&Worker{OutDir: out}).Apply(context.Background(), rest); err != nil {
				t.Fatal(err)
			}
			wantPlaces(t, subs, len(names))
			undoFully(t, out, subs)
		}
		if err == nil {
			if k != 1+2*len(names) { // the journal, and a folder and a move for each
				t.Errorf("%d steps, want %d", k, 1+2*len(names))
			}
			return
		}
	}
}

// undoFully undoes with a stop before every step first.
func undoFully(t *testing.T, out string, subs []Sub) {
	t.Helper()
	for k := 0; ; k++ {
		_, err := stopAt(out, k).Undo(context.Background())
		if err == nil || errors.Is(err, ErrNoJournal) {
			break
		}
		if !errors.Is(err, errStop) {
			t.Fatal(err)
		}
	}
	wantPlaces(t, subs, 0)
}

// TestKilled kills a real process at every step, without a chance to tidy up.
func TestKilled(t *testing.T) {
	if os.Getenv("CULL_TEST_OUT") != "" {
		killedChild()
		return
	}
	names := []string{"a", "b\nb", "c"}
	for k := 0; k <= 2*len(names); k++ {
		out, subs := makeNight(t, names)
		child := exec.Command(os.Args[0], "-test.run=^TestKilled$")
		child.Env = append(os.Environ(), "CULL_TEST_OUT="+out, "CULL_TEST_STEP="+strconv.Itoa(k))
		for i, s := range subs {
			child.Env = append(child.Env, fmt.Sprintf("CULL_TEST_%d=%s", i, s.Path))
		}
		pipe, err := child.StdoutPipe()
		must(t, err)
		must(t, child.Start())
		if line, err := bufio.NewReader(pipe).ReadString('\n'); err != nil || line != "waiting\n" {
			t.Fatalf("step %d: child said %q, %v", k, line, err)
		}
		must(t, child.Process.Kill())
		child.Wait()
		moved := max(0, (k-1)/2) // the journal, then a folder and a move for each
		wantPlaces(t, subs, moved)
		undoFully(t, out, subs)
	}
}

// killedChild applies a plan up to a step, says that it waits and never goes on.
func killedChild() {
	step, _ := strconv.Atoi(os.Getenv("CULL_TEST_STEP"))
	var subs []Sub
	for i := 0; os.Getenv(fmt.Sprintf("CULL_TEST_%d", i)) != ""; i += 2 {
		path := os.Getenv(fmt.Sprintf("CULL_TEST_%d", i))
		subs = append(subs, Sub{Path: path, Size: int64(len(path)), Modified: shot, Verdict: "cull"})
	}
	plan, err := NewPlan(subs, Selection{Take: TakeCull})
	if err != nil {
		panic(err)
	}
	n := 0
	w := Worker{OutDir: os.Getenv("CULL_TEST_OUT"), pause: func(string) error {
		if n++; n > step {
			fmt.Println("waiting")
			select {}
		}
		return nil
	}}
	w.Apply(context.Background(), plan)
}

// A process killed while it wrote the journal leaves a part under the temporary
// name: the next one pays no heed to it. A journal that is damaged in place
// stops all work before a file is touched.
func TestDamagedJournal(t *testing.T) {
	out, subs := makeNight(t, []string{"a", "b"})
	must(t, os.WriteFile(filepath.Join(out, JournalName+".new"), []byte(journalHead+"\nmove 12"), 0o666))
	plan, err := NewPlan(subs, Selection{Take: TakeCull})
	must(t, err)
	w := Worker{OutDir: out}
	if _, err := w.Apply(context.Background(), plan); err != nil {
		t.Fatal(err)
	}
	wantPlaces(t, subs, 2)
	whole, err := os.ReadFile(filepath.Join(out, JournalName))
	must(t, err)
	must(t, os.WriteFile(filepath.Join(out, JournalName), whole[:len(whole)-6], 0o666))
	var bad *journalError
	if _, err := w.Undo(context.Background()); !errors.As(err, &bad) {
		t.Errorf("undo with half a journal: %v", err)
	}
	if _, err := w.Apply(context.Background(), plan); !errors.As(err, &bad) {
		t.Errorf("apply over half a journal: %v", err)
	}
	wantPlaces(t, subs, 2)
}

// Ctrl-C stops between two files.
func TestInterrupted(t *testing.T) {
	out, subs := makeNight(t, []string{"a", "b"})
	plan, err := NewPlan(subs, Selection{Take: TakeCull})
	must(t, err)
	ctx, cancel := context.WithCancel(context.Background())
	w := Worker{OutDir: out, pause: func(step string) error {
		if step == "move "+plan.Moves[0].Path {
			cancel()
		}
		return nil
	}}
	if _, err := w.Apply(ctx, plan); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
	wantPlaces(t, subs, 1)
	undoFully(t, out, subs)
}
