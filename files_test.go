package fitsqa

import (
	"fmt"
	"go/ast"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
)

// source is a package of this module: its files for this machine, parsed, and what
// their names mean.
type source struct {
	path  string
	files []*ast.File
	types *types.Package
	uses  map[*ast.Ident]types.Object
}

// sources reads the packages of this module, once for all tests.
func sources(t *testing.T) ([]source, *token.FileSet) {
	t.Helper()
	all, err := checked()
	if err != nil {
		t.Fatal(err)
	}
	return all, fset
}

var (
	fset    = token.NewFileSet()
	checked = sync.OnceValues(check)
)

// check reads the packages. Types of what they import come from the files that the
// compiler left in Go's cache, so that only this module is checked anew.
func check() ([]source, error) {
	out, err := exec.Command("go", "list", "-export", "-deps", "-f", `{{.ImportPath}}|{{.Export}}|{{.Dir}}|{{join .GoFiles " "}}`, "fitsqa/internal/...", "fitsqa/cmd/...").Output()
	if err != nil {
		return nil, err
	}
	exported := map[string]string{}
	var all []source
	for line := range strings.Lines(string(out)) {
		part := strings.Split(strings.TrimSpace(line), "|")
		exported[part[0]] = part[1]
		if !strings.HasPrefix(part[0], "fitsqa/") {
			continue
		}
		s := source{path: part[0]}
		for _, name := range strings.Fields(part[3]) {
			f, err := parser.ParseFile(fset, filepath.Join(part[2], name), nil, parser.SkipObjectResolution)
			if err != nil {
				return nil, err
			}
			s.files = append(s.files, f)
		}
		all = append(all, s)
	}
	imports := importer.ForCompiler(fset, "gc", func(path string) (io.ReadCloser, error) { return os.Open(exported[path]) })
	for i := range all {
		s := &all[i]
		s.uses = map[*ast.Ident]types.Object{}
		if s.types, err = (&types.Config{Importer: imports}).Check(s.path, fset, s.files, &types.Info{Uses: s.uses}); err != nil {
			return nil, err
		}
	}
	return all, nil
}

// fileUses are the files whose functions and methods each file uses.
func (s *source) fileUses(fset *token.FileSet) map[string]map[string]bool {
	name := func(at token.Pos) string { return filepath.Base(fset.Position(at).Filename) }
	uses := map[string]map[string]bool{}
	for _, f := range s.files {
		uses[name(f.Pos())] = map[string]bool{}
	}
	for id, used := range s.uses {
		if fn, ok := used.(*types.Func); ok && fn.Pkg() == s.types && name(fn.Pos()) != name(id.Pos()) {
			uses[name(id.Pos())][name(fn.Pos())] = true
		}
	}
	return uses
}

// circleOf takes away file after file that no other left uses, and then those that use
// none; what remains uses one another in a circle, or lies between two.
func circleOf(uses map[string]map[string]bool) []string {
	left := map[string]bool{}
	for name := range uses {
		left[name] = true
	}
	for taken := true; taken; {
		taken = false
		for name := range left {
			used, using := false, false
			for other := range left {
				used, using = used || uses[other][name], using || uses[name][other]
			}
			if !used || !using {
				delete(left, name)
				taken = true
			}
		}
	}
	var names []string
	for name := range left {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// The files of every package use one another one way, as the packages do: so that from
// the top one each can be read after those that ask for it.
func TestFilesUseOneAnotherOneWay(t *testing.T) {
	t.Parallel()
	all, fset := sources(t)
	arrows := 0
	for _, s := range all {
		uses := s.fileUses(fset)
		for _, to := range uses {
			arrows += len(to)
		}
		if circle := circleOf(uses); circle != nil {
			var how strings.Builder
			for _, from := range circle {
				for _, to := range circle {
					if uses[from][to] {
						fmt.Fprintf(&how, "\n\t%s uses %s", from, to)
					}
				}
			}
			t.Errorf("%s: files use one another in a circle:%s", s.path, &how)
		}
	}
	if len(all) < 40 || arrows < 1000 { // or it looked at nothing
		t.Errorf("%d packages, whose files use one another %d times", len(all), arrows)
	}
}

// A circle is seen, and files above, below or between are not taken for one.
func TestCircleIsSeen(t *testing.T) {
	straight := map[string]map[string]bool{"run": {"read": true, "judge": true}, "judge": {"read": true}, "read": {}}
	if got := circleOf(straight); got != nil {
		t.Errorf("%v", got)
	}
	round := map[string]map[string]bool{"run": {"read": true}, "read": {"judge": true}, "judge": {"read": true, "write": true}, "write": {}}
	if got := circleOf(round); !slices.Equal(got, []string{"judge", "read"}) {
		t.Errorf("%v", got)
	}
}
