package main

import (
	"bytes"
	"os"
	"strings"
	"testing"
)

// The README's `console` blocks are run in order in one empty folder. Every
// output line that a block shows must come, in that order; a line "..." stands
// for any number of lines. `make` and `open` lines are for people.
func TestReadmeCommands(t *testing.T) {
	if testing.Short() {
		t.Skip("makes and checks the demo night, as TestDemoNight of internal/night does")
	}
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(t.TempDir())
	commands := 0
	for _, c := range consoleCommands(string(text)) {
		args := strings.Fields(c.line)
		if len(args) == 0 || args[0] != "fitsqa" {
			continue
		}
		commands++
		var stdout, stderr bytes.Buffer
		code := run(t.Context(), &stdout, &stderr, args[1:])
		if code != exitDone {
			t.Fatalf("$ %s\nexit code %d\n%s", c.line, code, stderr.String())
		}
		compareShown(t, c, stdout.String()+stderr.String())
	}
	if commands == 0 {
		t.Error("the README shows no command")
	}
}

type shownCommand struct {
	line   string
	output []string
}

// consoleCommands finds the lines after "$ " in fenced blocks marked console.
func consoleCommands(markdown string) []shownCommand {
	var found []shownCommand
	inside := false
	for line := range strings.Lines(markdown) {
		line = strings.TrimRight(line, "\n")
		switch {
		case strings.HasPrefix(line, "```"):
			inside = line == "```console"
		case !inside:
		case strings.HasPrefix(line, "$ "):
			found = append(found, shownCommand{line: line[2:]})
		case len(found) > 0:
			last := &found[len(found)-1]
			last.output = append(last.output, line)
		}
	}
	return found
}

func compareShown(t *testing.T, c shownCommand, output string) {
	t.Helper()
	got := strings.Split(strings.TrimRight(output, "\n"), "\n")
	for i := range got {
		got[i] = strings.TrimRight(got[i], " ")
	}
	at, anywhere := 0, false
	for _, want := range c.output {
		want = strings.TrimRight(want, " ")
		if want == "..." {
			anywhere = true
			continue
		}
		found := -1
		for i := at; i < len(got); i++ {
			if got[i] == want {
				found = i
				break
			}
			if !anywhere {
				break
			}
		}
		if found < 0 {
			t.Errorf("$ %s\nthe README shows the line\n\t%q\nwhere the output goes on with\n\t%q", c.line, want, got[min(at, len(got)-1)])
			return
		}
		at, anywhere = found+1, false
	}
}
