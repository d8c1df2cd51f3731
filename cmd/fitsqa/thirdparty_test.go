package main

import (
	"os"
	"os/exec"
	"strings"
	"testing"
)

// Every module that is linked into the program stands in THIRD-PARTY.md, in the
// version that is linked.
func TestThirdPartyIsWhole(t *testing.T) {
	t.Parallel()
	text, err := os.ReadFile("../../THIRD-PARTY.md")
	if err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("go", "list", "-deps", "-f", "{{with .Module}}{{if not .Main}}## {{.Path}}\n\n{{.Version}}\n\n``````text{{end}}{{end}}", ".").Output()
	if err != nil {
		t.Skip("needs the go command: ", err)
	}
	n := 0
	for _, entry := range strings.SplitAfter(string(out), "``````text") {
		if entry = strings.TrimSpace(entry); entry == "" {
			continue
		}
		if n++; !strings.Contains(string(text), entry) {
			t.Errorf("not there, or without its licence: %s (make third-party)", strings.Fields(entry)[1:3])
		}
	}
	if n < 10 {
		t.Errorf("only %d modules", n)
	}
}
