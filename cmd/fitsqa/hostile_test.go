package main

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode"
)

// Names and header text that steer terminals, spreadsheets or browsers go
// through the whole command and come out as plain text.
func TestHostileNamesAndHeaders(t *testing.T) {
	night := smallNight(t)
	lights, err := filepath.Glob(filepath.Join(night, "*", "*", "*.fits"))
	if err != nil || len(lights) < 5 {
		t.Fatalf("frames of the night: %q, %v", lights, err)
	}
	frame, err := os.ReadFile(lights[len(lights)-1])
	if err != nil {
		t.Fatal(err)
	}
	i := strings.Index(string(frame[:2880*3]), "OBJECT  = ")
	if i < 0 {
		t.Fatalf("%s has no OBJECT", lights[len(lights)-1])
	}
	copy(frame[i:i+80], "OBJECT  = '=\x1b[2J<script>x</script>'"+strings.Repeat(" ", 60))
	for _, name := range []string{"a\nb.fits", "\x1b[31mred.fits", "bad\xff\xfe.fits", "=1+1.fits", "@x.fits", "<script>x<.fits", "\u202egnp.fits"} {
		if err := os.WriteFile(filepath.Join(night, name), frame, 0o644); err != nil {
			t.Skip("the file system takes no such name: ", err)
		}
	}
	out := filepath.Join(t.TempDir(), "out")
	code, stdout, stderr := finish(t, program(t, "check", "--out", out, night))
	if code != exitDone {
		t.Fatalf("exit code %d, %s", code, stderr)
	}
	read := func(name string) string {
		content, err := os.ReadFile(filepath.Join(out, name))
		if err != nil {
			t.Fatal(err)
		}
		return string(content)
	}
	for where, text := range map[string]string{"stdout": stdout, "stderr": stderr, "report.txt": read("report.txt")} {
		for line := range strings.Lines(text) {
			if strings.ContainsFunc(strings.TrimSuffix(line, "\n"), func(r rune) bool { return r == unicode.ReplacementChar || !unicode.IsPrint(r) && r != '\u00a0' }) {
				t.Errorf("%s holds what a terminal would obey: %q", where, line)
			}
		}
	}
	rows, err := csv.NewReader(strings.NewReader(read("subs.csv"))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	hostile := 0
	for _, row := range rows[1:] {
		for _, text := range row[:3] { // file, target, filter
			if strings.ContainsAny(text, "\n\x1b\u202e") || text != "" && strings.ContainsRune("=+-@\t\r", rune(text[0])) {
				t.Errorf("subs.csv holds the cell %q", text)
			}
			if strings.HasPrefix(text, "'") {
				hostile++
			}
		}
	}
	if hostile < 3 { // two names and a target at least
		t.Errorf("only %d cells needed quoting", hostile)
	}
	if strings.Contains(read("report.html"), "<script>x<") {
		t.Error("report.html holds markup from a header or name")
	}
}
