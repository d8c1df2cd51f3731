package cull

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// Names of the lists of what stays, for programs that stack.
const (
	keepList    = "keep.txt"    // absolute paths, one a line
	keepFolder  = "keep"        // the same, a file for each filter
	weightsList = "weights.csv" // path, target, filter, exposure, verdict, weight
)

// Listed is a sub with its share in the stack.
type Listed struct {
	Sub
	Target   string
	Exposure float64 // s, NaN when not known
	Weight   float64 // 1 for the group's best, NaN when not known
}

// WriteLists writes the lists of the subs that are kept or doubtful into an output
// folder, in their order. A path that would break its line is quoted as a Go
// string in the lists of paths.
func WriteLists(outdir string, all []Listed) error {
	var kept []Listed
	byFilter := map[string][]string{}
	var paths []string
	for _, s := range all {
		if v := s.Final(); v != "keep" && v != "doubtful" { // culled, or not judged
			continue
		}
		kept = append(kept, s)
		paths = append(paths, s.Path)
		byFilter[s.Filter] = append(byFilter[s.Filter], s.Path)
	}
	if err := writeWhole(outdir, keepList, pathList(paths)); err != nil {
		return err
	}
	if err := writeWhole(outdir, weightsList, weightList(kept)); err != nil {
		return err
	}
	folder := filepath.Join(outdir, keepFolder)
	if err := os.MkdirAll(folder, 0o777); err != nil {
		return err
	}
	names := filterFiles(byFilter)
	old, err := filepath.Glob(filepath.Join(escapeGlob(folder), "*.txt"))
	if err != nil {
		return err
	}
	for _, path := range old { // of filters that nothing is kept of any more
		if _, still := names[filepath.Base(path)]; !still {
			if err := writeWhole(folder, filepath.Base(path), nil); err != nil {
				return err
			}
		}
	}
	for name, filter := range names {
		if err := writeWhole(folder, name, pathList(byFilter[filter])); err != nil {
			return err
		}
	}
	return nil
}

// escapeGlob makes a path one that a pattern matches literally.
func escapeGlob(path string) string {
	return strings.NewReplacer(`\`, `\\`, `*`, `\*`, `?`, `\?`, `[`, `\[`).Replace(path)
}

// filterFiles names a file for each filter, in letters that every system takes.
func filterFiles(byFilter map[string][]string) map[string]string {
	filters := make([]string, 0, len(byFilter))
	for f := range byFilter {
		filters = append(filters, f)
	}
	slices.Sort(filters)
	names := map[string]string{}
	for _, f := range filters {
		plain := strings.Map(func(r rune) rune {
			if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' || r == '+' {
				return r
			}
			return '_'
		}, f)
		if plain = plain[:min(len(plain), 60)]; plain == "" {
			plain = "no_filter"
		}
		name := plain + ".txt"
		taken := func() bool {
			for other := range names {
				if strings.EqualFold(other, name) {
					return true
				}
			}
			return false
		}
		for k := 2; taken(); k++ {
			name = plain + "_" + strconv.Itoa(k) + ".txt"
		}
		names[name] = f
	}
	return names
}

func pathList(paths []string) []byte {
	var b strings.Builder
	for _, p := range paths {
		if strings.ContainsAny(p, "\n\r") {
			p = strconv.Quote(p)
		}
		b.WriteString(p)
		b.WriteByte('\n')
	}
	return []byte(b.String())
}

func weightList(kept []Listed) []byte {
	number := func(v float64, digits int) string {
		if math.IsNaN(v) {
			return ""
		}
		return strconv.FormatFloat(v, 'g', digits, 64)
	}
	var b strings.Builder
	w := csv.NewWriter(&b)
	_ = w.Write([]string{"path", "target", "filter", "exposure_s", "verdict", "weight"}) // into memory
	for _, s := range kept {
		_ = w.Write([]string{s.Path, s.Target, s.Filter, number(s.Exposure, 6), s.Final(), number(s.Weight, 4)})
	}
	w.Flush()
	return []byte(b.String())
}

// writeWhole puts a small file in place: the old one or the new one, whole.
func writeWhole(folder, name string, text []byte) (err error) {
	// Not a temporary name of reports: a check that begins sweeps those away.
	f, err := os.CreateTemp(folder, "."+name+".*.new")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			os.Remove(f.Name())
		}
	}()
	_, err = f.Write(text)
	if chmodErr := f.Chmod(0o644); err == nil {
		err = chmodErr
	}
	if closeErr := f.Close(); err == nil {
		err = closeErr
	}
	if err != nil {
		return err
	}
	return os.Rename(f.Name(), filepath.Join(folder, name))
}
