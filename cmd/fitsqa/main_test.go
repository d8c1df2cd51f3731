package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/spf13/pflag"

	"fitsqa/internal/night"
)

// home is where all that tests share goes.
var home string

// No test may touch the ledger or the cache of whoever runs it. Tests of whole
// processes start this binary again as the program (see program).
func TestMain(m *testing.M) {
	if os.Getenv(asProgram) != "" {
		main()
	}
	var err error
	if home, err = os.MkdirTemp("", "fitsqa-test-home"); err != nil {
		panic(err)
	}
	if cache, err := os.UserCacheDir(); err == nil && os.Getenv("GOCACHE") == "" {
		os.Setenv("GOCACHE", filepath.Join(cache, "go-build")) // what the compiler keeps stays where it is
	}
	os.Setenv("XDG_DATA_HOME", home)
	os.Setenv("XDG_CACHE_HOME", home)
	code := m.Run()
	_ = os.RemoveAll(home) // it is a temporary folder
	os.Exit(code)
}

// checkSettings are what check works out from its command line.
func checkSettings(t *testing.T, args ...string) (night.Settings, error) {
	t.Helper()
	var o checkOptions
	fs := pflag.NewFlagSet("check", pflag.ContinueOnError)
	o.addFlags(fs)
	if err := fs.Parse(args); err != nil {
		t.Fatal(err)
	}
	s, err := o.resolve(fs)
	if err != nil {
		return s, err
	}
	s.Decisions, err = loadDecisions(t.TempDir(), o.decisions)
	return s, err
}

// call runs the program in-process.
func call(t *testing.T, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	code = run(t.Context(), &out, &errs, args)
	return code, out.String(), errs.String()
}

func TestUsageErrors(t *testing.T) {
	empty := t.TempDir()
	config := filepath.Join(t.TempDir(), "a.toml")
	if err := os.WriteFile(config, []byte("workers = 1\n\n[stars]\nthreshhold = 6\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		args []string
		code int
		says string
	}{
		{nil, exitUsage, "Usage"},
		{[]string{"dance"}, exitUsage, `unknown command "dance"`},
		{[]string{"chekc"}, exitUsage, `; did you mean check` + "\n"},
		{[]string{"check"}, exitUsage, "at least one folder"},
		{[]string{"settings", "now"}, exitUsage, `takes no "now"`},
		{[]string{"version", "now"}, exitUsage, `takes no "now"`},
		{[]string{"cache", "now"}, exitUsage, `takes no "now"`},
		{[]string{"cull", "--cause", "cloud,clouds", empty}, exitUsage, "there are bright_sky, cloud"},
		{[]string{"cull", empty}, exitNothing, "has no reports of a check"},
		{[]string{"check", "--no-such-flag", empty}, exitUsage, "no-such-flag"},
		{[]string{"check", "--workers", "0", empty}, exitUsage, "workers"},
		{[]string{"check", "--site", "91,0", empty}, exitUsage, "latitude"},
		{[]string{"check", "--config", config, empty}, exitUsage, `line 4, column 1: unknown key "stars.threshhold"`},
		{[]string{"check", "--config", "no-such-file", empty}, exitUsage, "no-such-file"},
		{[]string{"check", "--out", filepath.Join(empty, "x", "y"), empty}, exitUsage, "inside the source folder"},
		{[]string{"check", "--out", empty, empty}, exitUsage, "inside the source folder"},
		{[]string{"check", "--out", t.TempDir(), empty}, exitNothing, "no usable frame was found: no file there ends in .fit"},
		{[]string{"check", "--out", t.TempDir(), config}, exitUsage, "it is a file: name the folder that holds it"},
		{[]string{"check", "--out", t.TempDir(), filepath.Join(empty, "gone")}, exitUsage, "gone: no such file or directory"},
		{[]string{"check", "--out", t.TempDir(), filepath.Join(empty, "gone")}, exitUsage, "gone"},
		{[]string{"demo"}, exitUsage, "one folder"},
		{[]string{"demo", "--scenario", "none", empty}, exitUsage, `no scenario "none"`},
	} {
		code, _, stderr := call(t, c.args...)
		if code != c.code || !strings.Contains(stderr, c.says) {
			t.Errorf("%q: exit code %d, stderr %q; want %d and %q", c.args, code, stderr, c.code, c.says)
		}
	}
}

func TestHelpNamesEveryExitCode(t *testing.T) {
	for _, command := range []string{"check", "demo"} {
		code, stdout, _ := call(t, command, "--help")
		if code != exitDone {
			t.Errorf("%s --help: exit code %d", command, code)
		}
		for _, say := range []string{"Usage: fitsqa " + command, "  0 ", "  2 ", "  3 ", "  4 ", "  5 ", "  130 "} {
			if !strings.Contains(stdout, say) {
				t.Errorf("%s --help does not say %q", command, say)
			}
		}
	}
	if code, stdout, _ := call(t, "version"); code != exitDone || !strings.HasPrefix(stdout, "fitsqa ") {
		t.Errorf("version: %d %q", code, stdout)
	}
}

func TestFlagsWinOverFileWinOverDefaults(t *testing.T) {
	config := filepath.Join(t.TempDir(), "a.toml")
	if err := os.WriteFile(config, []byte("workers = 5\n[stars]\nthreshold = 6.5\n[site]\nlat = 10\nlon = 20\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	s, err := checkSettings(t, "-c", config, "--workers", "7", "night")
	if err != nil {
		t.Fatal(err)
	}
	if s.Workers != 7 || s.Stars.Threshold != 6.5 || s.Site == nil || s.Site.Lon != 20 {
		t.Errorf("settings %+v", s)
	}
	if want := night.DefaultSettings().Calib.HotSigma; s.Calib.HotSigma != want {
		t.Errorf("hot sigma %v, want the default %v", s.Calib.HotSigma, want)
	}
}

func TestInterruptedRunWritesNothing(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	out := filepath.Join(t.TempDir(), "out")
	var stdout, stderr bytes.Buffer
	if code := run(ctx, &stdout, &stderr, []string{"check", "--out", out, t.TempDir()}); code != exitInterrupted {
		t.Errorf("exit code %d", code)
	}
	if _, err := os.Stat(out); !os.IsNotExist(err) {
		t.Errorf("an output folder was made: %v", err)
	}
}
