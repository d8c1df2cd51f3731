package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Help fits a terminal of 80 columns and shows switches without a value.
func TestHelpFits(t *testing.T) {
	texts := map[string]string{}
	_, _, texts["fitsqa"] = call(t)
	for _, c := range newRoot().Commands() {
		_, texts[c.Name()], _ = call(t, c.Name(), "--help")
	}
	for _, shell := range []string{"bash", "fish"} {
		_, texts["completion "+shell], _ = call(t, "completion", shell, "--help")
	}
	column := strings.Index(strings.Split(texts["fitsqa"], "\n")[3], "measure the frames")
	for _, c := range newRoot().Commands() {
		if line := "  fitsqa " + c.Use; c.IsAvailableCommand() && !strings.Contains(texts["fitsqa"], line+strings.Repeat(" ", column-len(line))+c.Short) {
			t.Errorf("what %s does stands in no column with the others:\n%s", c.Name(), texts["fitsqa"])
		}
	}
	for name, text := range texts {
		if !strings.Contains(text, name) || name != "fitsqa" && !strings.HasPrefix(text, "Usage: fitsqa "+name) {
			t.Errorf("the help of %s does not begin with how it is called:\n%s", name, text)
		}
		if text == "" || strings.Contains(text, "true|false") {
			t.Errorf("%s: help is empty or shows a switch as more:\n%s", name, text)
		}
		for line := range strings.Lines(text) {
			if strings.HasPrefix(name, "completion") {
				break // in the library's words
			}
			if n := len([]rune(strings.TrimRight(line, "\n"))); n > helpColumns {
				t.Errorf("%s: a line of %d columns: %s", name, n, line)
			}
		}
	}
}

// A page a command, the same whenever it is made.
func TestManPages(t *testing.T) {
	dirs := []string{t.TempDir(), t.TempDir()}
	for _, dir := range dirs {
		if code, _, stderr := call(t, "man", dir); code != exitDone {
			t.Fatal(code, stderr)
		}
	}
	for _, c := range newRoot().Commands() {
		page := "fitsqa-" + c.Name() + ".1"
		first, err := os.ReadFile(filepath.Join(dirs[0], page))
		if err != nil {
			t.Error(err)
			continue
		}
		second, _ := os.ReadFile(filepath.Join(dirs[1], page))
		if string(first) != string(second) {
			t.Errorf("%s differs from run to run", page)
		}
	}
}

func TestCompletionForShells(t *testing.T) {
	for _, shell := range []string{"bash", "zsh", "fish"} {
		if code, stdout, stderr := call(t, "completion", shell); code != exitDone || !strings.Contains(stdout, "fitsqa") {
			t.Errorf("%s: %d %s", shell, code, stderr)
		}
	}
}
