package fitsqa

import (
	"os"
	"os/exec"
	"path"
	"slices"
	"strings"
	"testing"
)

// importTable reads which packages may import which from the table in
// DEVELOPERS.md: names as there, "all below" as nil.
func importTable(t *testing.T) map[string][]string {
	t.Helper()
	text, err := os.ReadFile("DEVELOPERS.md")
	if err != nil {
		t.Fatal(err)
	}
	table := map[string][]string{}
	for line := range strings.Lines(string(text)) {
		cells := strings.Split(strings.TrimSpace(line), " | ")
		name, isPackage := strings.CutPrefix(cells[0], "| `")
		if !isPackage || len(cells) < 3 || !strings.HasPrefix(name, "internal/") && !strings.HasPrefix(name, "cmd/") {
			continue
		}
		may := []string{}
		for word := range strings.SplitSeq(strings.Trim(strings.Join(cells[2:], ""), "| "), ",") {
			if word = strings.TrimSpace(word); word != "" {
				may = append(may, word)
			}
		}
		if slices.Contains(may, "all below") {
			may = nil
		}
		table[strings.TrimSuffix(name, "`")] = may
	}
	return table
}

// The table of DEVELOPERS.md is what the code imports: every package has its
// line, imports nothing else of this module, and every import named is there.
func TestImportTable(t *testing.T) {
	table := importTable(t)
	out, err := exec.Command("go", "list", "-f", "{{.ImportPath}} {{join .Imports \" \"}}", "fitsqa/...").Output()
	if err != nil {
		t.Fatal(err)
	}
	own := map[string]bool{}
	for line := range strings.Lines(string(out)) {
		words := strings.Fields(line)
		name := strings.TrimPrefix(words[0], "fitsqa/")
		if !strings.HasPrefix(name, "internal/") || strings.HasSuffix(name, "/generate") {
			continue
		}
		own[path.Base(name)] = true
		may, listed := table[name]
		if !listed {
			t.Errorf("%s has no line in the table", name)
			continue
		}
		used := map[string]bool{}
		for _, imported := range words[1:] {
			short, ours := strings.CutPrefix(imported, "fitsqa/internal/")
			if !ours {
				continue
			}
			used[path.Base(short)] = true
			if may != nil && !slices.Contains(may, path.Base(short)) {
				t.Errorf("%s imports %s, which the table does not allow", name, short)
			}
		}
		for _, m := range may {
			if !used[m] && m != "gonum" && m != "meeus" {
				t.Errorf("%s does not import %s, which the table names", name, m)
			}
		}
	}
	for name := range table {
		if strings.HasPrefix(name, "internal/") && !own[path.Base(name)] {
			t.Errorf("the table has a line for %s, which is not there", name)
		}
	}
}
