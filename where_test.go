package fitsqa

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"regexp"
	"strings"
	"testing"
)

var (
	readmeList = regexp.MustCompile("(?s)(?:`subs.csv`: |of each sub\n)`([a-z0-9_,\\s]+)`")
	metricRow  = regexp.MustCompile("(?m)^\\| (?:bias|dark|flat|camera) \\| `([a-z0-9_, ]+)` \\|$")
	figureRow  = regexp.MustCompile("(?m)^\\| (`[a-z0-9_, ]+`.*?) \\| (.*`internal/.*) \\|$")
	quotedName = regexp.MustCompile("`([^`]+)`")
	beside     = regexp.MustCompile("(`internal/[a-z/]+\\.go`) \\(((?:`\\w+`(?:, )?)+)\\)")
)

// DEVELOPERS.md leads from every column of the output to the functions that compute it:
// the names are README's (which are the output's, by a test of package report), and the
// functions are in the files.
func TestWhereFiguresAreComputed(t *testing.T) {
	readme, err := os.ReadFile("README.md")
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile("DEVELOPERS.md")
	if err != nil {
		t.Fatal(err)
	}
	_, part, _ := strings.Cut(string(text), "## Where a figure is computed\n")
	part, more, _ := strings.Cut(part, "\n## ")
	if part == "" || more == "" {
		t.Fatal("DEVELOPERS.md does not say where figures are computed")
	}
	told := map[string]bool{}
	for _, row := range figureRow.FindAllStringSubmatch(part, -1) {
		for _, name := range words(quotedName.FindStringSubmatch(row[1])[1]) {
			told[name] = true
		}
		hasFunctions(t, row[2])
	}
	for _, pair := range beside.FindAllStringSubmatch(part, -1) {
		hasFunctions(t, pair[1]+": "+pair[2])
	}
	asked := 0
	for _, list := range append(readmeList.FindAllStringSubmatch(string(readme), -1), metricRow.FindAllStringSubmatch(string(readme), -1)...) {
		for _, name := range words(list[1]) {
			asked++
			if !told[name] {
				t.Errorf("DEVELOPERS.md does not tell where %s is computed", name)
			}
		}
	}
	if asked < 90 {
		t.Errorf("only %d figures are in the lists of README.md", asked)
	}
}

func words(list string) []string {
	return strings.FieldsFunc(list, func(r rune) bool { return r == ',' || r == ' ' || r == '\n' })
}

// hasFunctions holds files, each followed by its functions, to the code.
func hasFunctions(t *testing.T, cell string) {
	t.Helper()
	var file string
	var declared map[string]bool
	for _, quoted := range quotedName.FindAllStringSubmatch(cell, -1) {
		if name := quoted[1]; strings.HasPrefix(name, "internal/") {
			file, declared = name, functionsOf(t, name)
		} else if !declared[name] {
			t.Errorf("%s has no function %s", file, name)
		}
	}
	if declared == nil {
		t.Errorf("no file in %s", cell)
	}
}

func functionsOf(t *testing.T, file string) map[string]bool {
	t.Helper()
	parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.SkipObjectResolution)
	if err != nil {
		t.Fatal(err)
	}
	names := map[string]bool{}
	for _, d := range parsed.Decls {
		if f, ok := d.(*ast.FuncDecl); ok {
			names[f.Name.Name] = true
		}
	}
	return names
}
