package cull

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The lists hold what is not culled, by the user's own verdict where there is
// one, a file for each filter whatever it is called; a filter of which nothing
// is kept any more has an empty list.
func TestWriteLists(t *testing.T) {
	dir := t.TempDir()
	listed := func(path, filter, verdict, decision string) Listed {
		return Listed{Sub: Sub{Path: path, Filter: filter, Verdict: verdict, Decision: decision}, Target: "Heron", Exposure: 60, Weight: 0.5}
	}
	all := []Listed{
		listed("/n/a.fits", "H/a", "keep", ""), listed("/n/b.fits", "H/a", "cull", ""), listed("/n/c.fits", "h a", "doubtful", ""),
		listed("/n/f.fits", "L", "not judged", ""), listed("/n/d.fits", "", "cull", "keep"), listed("/n/e.fits", "L", "keep", "cull"), listed("/n/two\nlines.fits", "", "keep", ""),
	}
	all[0].Weight = math.NaN()
	want := func(name, text string) {
		t.Helper()
		got, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil || string(got) != text {
			t.Errorf("%s: %v\n%q, want\n%q", name, err, got, text)
		}
	}
	if err := WriteLists(dir, all); err != nil {
		t.Fatal(err)
	}
	want("keep.txt", "/n/a.fits\n/n/c.fits\n/n/d.fits\n\"/n/two\\nlines.fits\"\n")
	want("keep/H_a.txt", "/n/a.fits\n")
	want("keep/h_a_2.txt", "/n/c.fits\n") // some systems tell no letter case apart
	want("keep/no_filter.txt", "/n/d.fits\n\"/n/two\\nlines.fits\"\n")
	weights, err := os.ReadFile(filepath.Join(dir, "weights.csv"))
	if err != nil || !strings.HasPrefix(string(weights), "path,target,filter,exposure_s,verdict,weight\n/n/a.fits,Heron,H/a,60,keep,\n/n/c.fits,Heron,h a,60,doubtful,0.5\n") {
		t.Errorf("%v\n%s", err, weights)
	}
	if err := WriteLists(dir, all[4:5]); err != nil {
		t.Fatal(err)
	}
	want("keep/H_a.txt", "")
	want("keep/no_filter.txt", "/n/d.fits\n")
	if left, _ := filepath.Glob(filepath.Join(dir, "*", ".*")); len(left) > 0 {
		t.Errorf("left %q", left)
	}
}
