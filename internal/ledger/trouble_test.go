package ledger

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fitsqa/internal/names"
)

// big is a record of n subs on one night.
func big(camera string, n int) Record {
	var r Record
	start := time.Date(2025, 2, 3, 18, 0, 0, 0, time.UTC)
	for i := range n {
		r.Subs = append(r.Subs, Sub{Camera: names.Name(camera), Start: start.Add(time.Duration(i) * time.Minute), Night: "2025-02-03",
			Target: "Heron Nebula", Filter: "L", Exposure: 60, Verdict: "keep", Weight: 1, File: strings.Repeat("x", 100)})
	}
	return r
}

func shot(t *testing.T, path string) (seconds float64) {
	t.Helper()
	l, err := OpenExisting(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	for _, h := range hours(t, l) {
		seconds += h.Shot
	}
	return seconds
}

// TestMain lets the test binary play the second process.
func TestMain(m *testing.M) {
	switch path := os.Getenv("LEDGER_PATH"); os.Getenv("LEDGER_ROLE") {
	case "writer":
		l, err := Open(context.Background(), path)
		if err == nil {
			err = l.Record(context.Background(), big(os.Getenv("LEDGER_CAMERA"), 200))
		}
		if err != nil {
			fmt.Println(err)
			os.Exit(1)
		}
		os.Exit(0)
	case "crash":
		l, err := Open(context.Background(), path)
		if err != nil {
			fmt.Println(err)
			os.Exit(1)
		}
		// A tiny cache makes the database file change before the end of the transaction.
		l.db.Exec("PRAGMA cache_size = 1")
		tx, _ := l.db.Begin()
		tx.Exec("DELETE FROM sub")
		recordSubs(context.Background(), tx, big("C9", 2000).Subs)
		self, _ := os.FindProcess(os.Getpid())
		self.Kill()
		select {}
	}
	os.Exit(m.Run())
}

func process(role, path, camera string) *exec.Cmd {
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), "LEDGER_ROLE="+role, "LEDGER_PATH="+path, "LEDGER_CAMERA="+camera)
	return cmd
}

// Runs that begin at once, on a file that is not there yet, all record their night.
func TestConcurrentRuns(t *testing.T) {
	path := filepath.Join(t.TempDir(), "ledger.db")
	const runs = 6
	var cmds []*exec.Cmd
	var outs [runs]bytes.Buffer
	for i := range runs {
		cmd := process("writer", path, fmt.Sprint("C", i))
		cmd.Stdout = &outs[i]
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		cmds = append(cmds, cmd)
	}
	for i, cmd := range cmds {
		if err := cmd.Wait(); err != nil {
			t.Errorf("run %d: %v %s", i, err, outs[i].String())
		}
	}
	within(t, "shot", shot(t, path), runs*200*60, 0)
}

// A run that is killed in the middle of its transaction leaves what was there.
func TestCrash(t *testing.T) {
	path := filepath.Join(t.TempDir(), "ledger.db")
	if out, err := process("writer", path, "C1").CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, out)
	}
	before, _ := os.ReadFile(path)
	out, err := process("crash", path, "").CombinedOutput()
	if err == nil {
		t.Fatalf("the crash did not happen: %s", out)
	}
	if after, _ := os.ReadFile(path); bytes.Equal(before, after) {
		t.Error("the crash came before anything was written, so this test shows nothing")
	}
	within(t, "shot", shot(t, path), 200*60, 0)
}

// The database may not grow beyond a few pages, which SQLite reports as it
// reports a full disk.
func TestFullDisk(t *testing.T) {
	l, path := fresh(t)
	record(t, l, big("C1", 100))
	var pages int
	if err := l.db.QueryRow("PRAGMA page_count").Scan(&pages); err != nil {
		t.Fatal(err)
	}
	if _, err := l.db.Exec(fmt.Sprintf("PRAGMA max_page_count = %d", pages+2)); err != nil {
		t.Fatal(err)
	}
	err := l.Record(context.Background(), big("C2", 1000))
	if !errors.Is(err, errFull) || !strings.Contains(err.Error(), path) {
		t.Errorf("got %v, want %v with the file's name", err, errFull)
	}
	within(t, "shot", shot(t, path), 100*60, 0)
}

// refused opens a file that must be refused and must not change.
func refused(t *testing.T, path string, want error) {
	t.Helper()
	before, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for name, open := range map[string]func(context.Context, string) (*Ledger, error){"Open": Open, "OpenExisting": OpenExisting} {
		l, err := open(context.Background(), path)
		if !errors.Is(err, want) || !strings.Contains(fmt.Sprint(err), path) {
			t.Errorf("%s: got %v, want %v with the file's name", name, err, want)
		}
		if err == nil {
			l.Close()
		}
		if after, _ := os.ReadFile(path); !bytes.Equal(before, after) {
			t.Errorf("%s changed the file", name)
		}
	}
}

func TestDamagedFiles(t *testing.T) {
	l, path := fresh(t)
	record(t, l, big("C1", 500))
	l.Close()
	sound, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	spoil := func(name string, change func([]byte) []byte) {
		t.Run(name, func(t *testing.T) {
			bad := filepath.Join(t.TempDir(), "ledger.db")
			if err := os.WriteFile(bad, change(bytes.Clone(sound)), 0o644); err != nil {
				t.Fatal(err)
			}
			refused(t, bad, errDamaged)
		})
	}
	spoil("text", func([]byte) []byte { return []byte(strings.Repeat("this is no database\n", 100)) })
	spoil("cut short", func(b []byte) []byte { return b[:len(b)/2] })
	spoil("a page of noise", func(b []byte) []byte {
		for i := 3 * 4096; i < 4*4096; i++ {
			b[i] = byte(i * 37)
		}
		return b
	})
	spoil("header only", func(b []byte) []byte { return b[:100] })
}

func TestNewerAndForeignFiles(t *testing.T) {
	for name, c := range map[string]struct {
		sql  string
		want error
	}{
		"newer":    {"PRAGMA user_version = 99", errNewer},
		"foreign":  {"PRAGMA application_id = 77", errForeign},
		"nobody's": {"PRAGMA application_id = 0", errForeign},
	} {
		l, path := fresh(t)
		if _, err := l.db.Exec(c.sql); err != nil {
			t.Fatal(err)
		}
		l.Close()
		t.Run(name, func(t *testing.T) { refused(t, path, c.want) })
	}
}

func TestBusy(t *testing.T) {
	l, path := fresh(t)
	other, err := Open(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	if _, err := other.db.Exec("PRAGMA busy_timeout = 50"); err != nil { // instead of ten seconds
		t.Fatal(err)
	}
	tx, err := l.db.Begin()
	if err != nil {
		t.Fatal(err)
	}
	if err := other.Record(context.Background(), big("C1", 1)); !errors.Is(err, errBusy) {
		t.Errorf("got %v, want %v", err, errBusy)
	}
	tx.Rollback()
	record(t, other, big("C1", 1))
}

func TestMissingAndUnwritable(t *testing.T) {
	dir := t.TempDir()
	if _, err := OpenExisting(context.Background(), filepath.Join(dir, "none.db")); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("got %v", err)
	}
	if _, err := os.Stat(filepath.Join(dir, "none.db")); err == nil {
		t.Error("looking at a ledger that is not there made one")
	}
	if _, err := OpenExisting(context.Background(), dir); err == nil {
		t.Error("a folder was taken for a ledger")
	}
	if err := os.WriteFile(filepath.Join(dir, "file"), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(context.Background(), filepath.Join(dir, "file", "ledger.db")); err == nil {
		t.Error("a ledger below a file")
	}
	odd := filepath.Join(dir, "odd ?#% name.db") // the name must not be read as options
	l, err := Open(context.Background(), odd)
	if err != nil {
		t.Fatal(err)
	}
	l.Close()
	if _, err := os.Stat(odd); err != nil {
		t.Error(err)
	}
}

func TestDefaultPath(t *testing.T) {
	t.Setenv("XDG_DATA_HOME", "/data")
	if p, err := DefaultPath(); err != nil || p != "/data/fitsqa/ledger.db" {
		t.Errorf("%q %v", p, err)
	}
	t.Setenv("XDG_DATA_HOME", "relative") // must be ignored: XDG Base Directory Specification 0.8
	t.Setenv("HOME", "/home/observer")
	if p, err := DefaultPath(); err != nil || p != "/home/observer/.local/share/fitsqa/ledger.db" {
		t.Errorf("%q %v", p, err)
	}
}
