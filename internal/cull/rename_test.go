package cull

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"testing"

	"fitsqa/internal/outdir"
)

func TestOneAtATime(t *testing.T) {
	out, subs := makeNight(t, []string{"a"})
	unlock, err := outdir.Lock(out, 0)
	must(t, err)
	plan, err := NewPlan(subs, Selection{Take: TakeCull})
	must(t, err)
	w := Worker{OutDir: out}
	if done, err := w.Apply(context.Background(), plan); err == nil || len(done.Moved) > 0 {
		t.Errorf("worked beside another: %+v", done)
	}
	unlock()
	if done, err := w.Apply(context.Background(), plan); err != nil || len(done.Moved) != 1 {
		t.Errorf("after it: %v %+v", err, done)
	}
}

// The portable rename refuses to replace, as the exclusive one does.
func TestRenameNeverReplaces(t *testing.T) {
	for name, rename := range map[string]func(from, to string) error{"exclusive": renameExclusive, "checked": renameChecked} {
		dir := t.TempDir()
		a, b := filepath.Join(dir, "a"), filepath.Join(dir, "b")
		makeFrame(t, a, "")
		makeFrame(t, b, "")
		if err := rename(a, b); !errors.Is(err, os.ErrExist) {
			t.Errorf("%s: onto a file: %v", name, err)
		}
		if text, _ := os.ReadFile(b); string(text) != b {
			t.Errorf("%s: replaced", name)
		}
		if err := rename(a, filepath.Join(dir, "c")); err != nil {
			t.Errorf("%s: onto nothing: %v", name, err)
		}
	}
}
