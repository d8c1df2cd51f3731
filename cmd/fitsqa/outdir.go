package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"

	"fitsqa/internal/cull"
)

// defaultOut is where reports go when nothing else is said.
const defaultOut = "fitsqa-out"

// outPlace is where reports go, with a word for the user where that is not
// plain.
type outPlace struct{ dir, notice string }

// placeReports chooses the folder for the reports of the night in roots. What
// was asked for is refused inside a source folder, and where the folder holds
// the journal of another night's culled files, which must stay with its report.
// Without a wish it is fitsqa-out here; where that lies inside the night, or
// holds the reports of another, a folder named for the night.
func placeReports(asked string, roots []string) (outPlace, error) {
	if asked != "" {
		return askedPlace(asked, roots)
	}
	inside := checkOutside(defaultOut, roots) != nil
	if !inside && !holdsOther(defaultOut, roots) {
		return outPlace{dir: defaultOut}, nil
	}
	root, err := resolved(roots[0])
	if err != nil {
		return outPlace{}, err
	}
	dir := filepath.Base(root) + "-fitsqa"
	if inside {
		dir = filepath.Join(filepath.Dir(root), dir)
	}
	p, err := askedPlace(dir, roots)
	if p.notice == "" {
		p.notice = "Reports go to " + printable(dir) + "."
	}
	return p, err
}

func askedPlace(dir string, roots []string) (outPlace, error) {
	if err := checkOutside(dir, roots); err != nil {
		return outPlace{}, err
	}
	if !holdsOther(dir, roots) {
		return outPlace{dir: dir}, nil
	}
	if _, err := os.Lstat(filepath.Join(dir, cull.JournalName)); err == nil {
		return outPlace{}, journalHeld(dir)
	}
	return outPlace{dir: dir, notice: "The reports of another night in " + printable(dir) + " will be replaced."}, nil
}

// journalHeld says what another night's journal in a folder would bring back.
func journalHeld(dir string) error {
	night, n, err := cull.Aside(dir)
	if err != nil {
		return fmt.Errorf("%s holds another night's reports and the journal of its culled files, which cannot be read: %w; name another folder with --out", dir, err)
	}
	of := "another night"
	if len(night) > 0 {
		of = strings.Join(night, ", ")
	}
	return fmt.Errorf("%s holds the reports of %s and the journal that brings back its culled files (%d are aside): name another folder with --out, or bring them back with fitsqa cull --undo %s", dir, of, n, dir)
}

// holdsOther tells whether dir holds the reports of other folders than roots.
func holdsOther(dir string, roots []string) bool {
	f, err := os.Open(filepath.Join(dir, "night.json"))
	if err != nil {
		return false
	}
	defer f.Close()
	held := rootsIn(json.NewDecoder(f))
	return len(held) > 0 && !slices.Equal(allResolved(held), allResolved(roots))
}

// rootsIn are the folders that a night.json is of; nil where it is no report that anyone
// could read as far as there. What follows is not read: of a thousand subs it is megabytes.
func rootsIn(d *json.Decoder) (roots []string) {
	if begin, err := d.Token(); err != nil || begin != json.Delim('{') {
		return nil
	}
	for d.More() {
		name, err := d.Token()
		var value json.RawMessage
		if err != nil || d.Decode(&value) != nil {
			return nil
		}
		if name == "roots" {
			_ = json.Unmarshal(value, &roots)
			return roots
		}
	}
	return nil
}

// allResolved are folders by the paths that tell them apart, sorted.
func allResolved(roots []string) []string {
	out := make([]string, len(roots))
	for i, root := range roots {
		out[i] = root
		if path, err := resolved(root); err == nil {
			out[i] = path
		}
	}
	slices.Sort(out)
	return out
}

// checkOutside refuses an output folder inside a source folder: sources are only read.
func checkOutside(out string, roots []string) error {
	return outsideAll("output folder", out, "--out", roots)
}

// outsideAll refuses a place of ours inside a source folder; option names the
// one with which to choose another.
func outsideAll(what, place, option string, roots []string) error {
	abs, err := resolved(place)
	if err != nil {
		return err
	}
	for _, root := range roots {
		rootAbs, err := resolved(root)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(rootAbs, abs)
		if err == nil && rel != ".." && !strings.HasPrefix(rel, ".."+string(filepath.Separator)) {
			return fmt.Errorf("the %s %s lies inside the source folder %s, which is only read; name another with %s", what, place, root, option)
		}
	}
	return nil
}

// resolved is the absolute path with symbolic links followed as far as the
// path exists.
func resolved(path string) (string, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return "", err
	}
	for rest := ""; ; {
		real, err := filepath.EvalSymlinks(abs)
		if err == nil {
			return filepath.Join(real, rest), nil
		}
		missing := errors.Is(err, os.ErrNotExist) || errors.Is(err, syscall.ENOTDIR)
		if !missing || filepath.Dir(abs) == abs {
			return "", err
		}
		rest = filepath.Join(filepath.Base(abs), rest)
		abs = filepath.Dir(abs)
	}
}
