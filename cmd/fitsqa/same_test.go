package main

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"testing"
)

// times are what a report says of when it was made, and with how many workers.
var times = regexp.MustCompile(`"(finished_utc|run|run\.workers|workers)": [^,\n]*|(?m)^.*workers = \d+$`)

// With and without vector instructions the reports are the same, times apart.
func TestVectorInstructionsChangeNothing(t *testing.T) {
	if testing.Short() {
		t.Skip("two runs; each routine is held to its plain twin")
	}
	t.Parallel()
	dir := smallNight(t)
	var want map[string][]byte
	for _, without := range []string{"", "cpu.avx2=off"} {
		out := filepath.Join(t.TempDir(), "out")
		c := program(t, "check", "--no-cache", "--no-ledger", "-o", out, dir)
		c.Env = append(c.Env, "GODEBUG="+without)
		if code, stdout, stderr := finish(t, c); code != exitDone {
			t.Fatalf("exit %d\n%s\n%s", code, stdout, stderr)
		}
		got := map[string][]byte{}
		for _, name := range []string{"subs.csv", "calibration.csv", "night.json", "report.txt"} {
			raw, err := os.ReadFile(filepath.Join(out, name))
			if err != nil {
				t.Fatal(err)
			}
			got[name] = times.ReplaceAll(raw, nil)
		}
		if want == nil {
			want = got
		}
		for name := range want {
			if !bytes.Equal(got[name], want[name]) {
				t.Errorf("%s differs without vector instructions", name)
			}
		}
	}
}
