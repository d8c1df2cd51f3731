package fitsqa

import (
	"go/token"
	"go/types"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// offered are the exported names of a package that its own exported ones need: types of
// parameters, results, fields and constants.
func offered(p *types.Package) map[types.Object]bool {
	needed := map[types.Object]bool{}
	var need func(t types.Type)
	need = func(t types.Type) {
		switch t := t.(type) {
		case *types.Named:
			needed[t.Obj()] = true
			for of := range t.TypeArgs().Types() {
				need(of)
			}
		case *types.Map:
			need(t.Key())
			need(t.Elem())
		case *types.Signature:
			need(t.Params())
			need(t.Results())
		case *types.Tuple:
			for v := range t.Variables() {
				need(v.Type())
			}
		case *types.Struct:
			for f := range t.Fields() {
				if f.Exported() {
					need(f.Type())
				}
			}
		case interface{ Elem() types.Type }: // pointers, lists
			need(t.Elem())
		}
	}
	for _, name := range p.Scope().Names() {
		o := p.Scope().Lookup(name)
		named, isType := o.Type().(*types.Named)
		if _, declares := o.(*types.TypeName); !declares || !isType {
			need(o.Type())
			continue
		}
		need(named.Underlying())
		for m := range named.Methods() {
			if m.Exported() {
				need(m.Type())
			}
		}
	}
	return needed
}

// declaration is where the declaration begins that an object stands in: alone, or in a
// list in brackets.
func (s *source) declaration(o types.Object) token.Pos {
	for _, f := range s.files {
		for _, d := range f.Decls {
			if d.Pos() <= o.Pos() && o.Pos() < d.End() {
				return d.Pos()
			}
		}
	}
	return token.NoPos
}

var qualified = regexp.MustCompile(`\b([a-z]\w*)\.([A-Z]\w*)`)

// namedElsewhere are the names with their package that files of other folders have, tests
// too: some packages are for these.
func namedElsewhere(t *testing.T) map[string]map[string]bool {
	t.Helper()
	folders := map[string]map[string]bool{}
	err := filepath.WalkDir(".", func(path string, d os.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, ".go") {
			return err
		}
		text, err := os.ReadFile(path)
		for _, m := range qualified.FindAllSubmatch(text, -1) {
			name := string(m[1]) + "." + string(m[2])
			if folders[name] == nil {
				folders[name] = map[string]bool{}
			}
			folders[name][filepath.ToSlash(filepath.Dir(path))] = true
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return folders
}

// What a package exports is named in another folder, or belongs to what is: types to
// signatures and fields, constants to their exported type or to others beside them.
func TestExportedIsNamedElsewhere(t *testing.T) {
	t.Parallel()
	all, _ := sources(t)
	named, count := namedElsewhere(t), 0
	for _, s := range all {
		folder := strings.TrimPrefix(s.path, "fitsqa/")
		elsewhere := func(o types.Object) bool {
			for other := range named[s.types.Name()+"."+o.Name()] {
				if other != folder {
					return true
				}
			}
			return false
		}
		scope, needed := s.types.Scope(), offered(s.types)
		lists := map[token.Pos]bool{} // of constants of which one is named elsewhere
		for _, name := range scope.Names() {
			if o := scope.Lookup(name); elsewhere(o) {
				lists[s.declaration(o)] = true
			}
		}
		for _, name := range scope.Names() {
			o := scope.Lookup(name)
			if !o.Exported() {
				continue
			}
			count++
			of, typed := o.Type().(*types.Named)
			_, constant := o.(*types.Const)
			if !elsewhere(o) && !needed[o] && !(constant && (typed && of.Obj().Exported() || lists[s.declaration(o)])) {
				t.Errorf("%s: no other folder names %s", s.path, name)
			}
		}
	}
	if count < 500 { // or it looked at nothing
		t.Errorf("%d exported names", count)
	}
}
