package cull

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// Move is one file's way aside.
type Move struct {
	Sub
	To string // absolute
}

// Refusal is a file that stays where it is although it was to be moved.
type Refusal struct {
	Path   string
	Reason string
}

// Plan is what Apply would do.
type Plan struct {
	Night   []string // the folders that were analysed, sorted; nil when not given
	Moves   []Move
	Aside   int // files that were moved before, as they were analysed
	Refused []Refusal
}

// Choice of subs by their verdict.
type Choice string

// The choices.
const (
	TakeCull     Choice = "cull"     // culled subs only
	TakeDoubtful Choice = "doubtful" // doubtful ones too
	TakeOwn      Choice = "own"      // only those that the user decided to cull
)

// ErrChoice says that a choice is none of the above.
var ErrChoice = errors.New(`want "cull", "doubtful" or "own"`)

// Selection is which subs to move.
type Selection struct {
	Take    Choice
	Causes  []string // only subs with one of these causes; none: any
	Filters []string // only subs through one of these filters; none: any
}

// takes tells whether a sub is among the selected. Letter case and the
// underscore of a cause do not matter.
func (sel Selection) takes(s Sub) bool {
	verdict := s.Final()
	wanted := verdict == "cull" && (sel.Take != TakeOwn || s.Decision != "") || verdict == "doubtful" && sel.Take == TakeDoubtful
	if verdict == notJudged { // nothing speaks against it: the user has to name the cause
		wanted = sel.Take != TakeOwn && len(sel.Causes) > 0
	}
	return wanted && (len(sel.Causes) == 0 || slices.ContainsFunc(s.Causes, func(c string) bool { return named(sel.Causes, c) })) &&
		(len(sel.Filters) == 0 || named(sel.Filters, s.Filter))
}

// notJudged is the verdict on a sub that could not be read.
const notJudged = "not judged"

func named(names []string, name string) bool {
	return slices.ContainsFunc(names, func(n string) bool { return CauseNamed(n) == CauseNamed(name) })
}

// CauseNamed is the cause that people write in their way, "Bright sky" for bright_sky.
func CauseNamed(name string) string {
	return strings.ToLower(strings.ReplaceAll(strings.TrimSpace(name), " ", "_"))
}

// NewPlan looks at the files of the selected subs; it changes nothing.
func NewPlan(subs []Sub, sel Selection) (*Plan, error) {
	if sel.Take != TakeCull && sel.Take != TakeDoubtful && sel.Take != TakeOwn {
		return nil, ErrChoice
	}
	p := &Plan{}
	seen := map[string]bool{}
	for _, s := range subs {
		if !sel.takes(s) {
			continue
		}
		path := filepath.Clean(s.Path)
		if seen[path] {
			continue
		}
		seen[path] = true
		m := Move{s, filepath.Join(filepath.Dir(path), Folder, filepath.Base(path))}
		m.Path = path
		switch err := m.check(); {
		case errors.Is(err, errAside):
			p.Aside++
		case err != nil:
			p.Refused = append(p.Refused, Refusal{path, err.Error()})
		default:
			p.Moves = append(p.Moves, m)
		}
	}
	return p, nil
}

// errAside says that a file is where it was to be moved.
var errAside = errors.New("moved already")

func (m Move) check() error {
	if m.Unclear != "" {
		return errors.New(m.Unclear)
	}
	if !filepath.IsAbs(m.Path) || strings.ContainsRune(m.Path, 0) {
		return errors.New("night.json does not tell where it is")
	}
	if filepath.Base(filepath.Dir(m.Path)) == Folder {
		return errors.New("is in a folder " + Folder + " already")
	}
	if err := m.unchanged(m.Path); err != nil {
		if errors.Is(err, fs.ErrNotExist) && m.unchanged(m.To) == nil {
			return errAside
		}
		return err
	}
	folder, err := os.Lstat(filepath.Dir(m.To))
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return reason(err)
	case !folder.IsDir():
		return fmt.Errorf("%s beside it is not a folder", Folder)
	}
	switch _, err := os.Lstat(m.To); {
	case err == nil:
		return fmt.Errorf("%s holds a file of this name already", Folder)
	case !errors.Is(err, fs.ErrNotExist):
		return reason(err)
	}
	return nil
}

func (m Move) unchanged(path string) error {
	info, err := os.Lstat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("is not there any more (%w)", fs.ErrNotExist)
	case err != nil:
		return reason(err)
	case info.Mode()&fs.ModeSymlink != 0:
		return errors.New("is a symbolic link: moving it would not move the frame")
	case !info.Mode().IsRegular():
		return errors.New("is not a regular file")
	case info.Size() != m.Size:
		return fmt.Errorf("changed since the analysis: %d bytes now, %d then", info.Size(), m.Size)
	case !info.ModTime().Equal(m.Modified):
		return fmt.Errorf("changed since the analysis: written %s", info.ModTime().UTC().Format("2006-01-02 15:04:05 UTC"))
	}
	return nil
}

// reason is what went wrong without the path, which the caller shows.
func reason(err error) error {
	var path *fs.PathError
	var link *os.LinkError
	switch {
	case errors.Is(err, fs.ErrPermission) || isReadOnly(err):
		return errors.New("its folder cannot be written to (read-only, or not yours)")
	case errors.As(err, &path):
		return path.Err
	case errors.As(err, &link):
		return link.Err
	}
	return err
}
