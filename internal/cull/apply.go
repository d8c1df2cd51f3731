package cull

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"fitsqa/internal/outdir"
)

// Outcome is what became of a plan or of an undo.
type Outcome struct {
	Moved   []Move // in Undo: moved back
	Refused []Refusal
}

// Worker applies and undoes plans, keeping the journal in one output folder.
type Worker struct {
	OutDir string
	pause  func(step string) error // called between steps; tests stop the work there
}

func (w *Worker) step(ctx context.Context, step string) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if w.pause != nil {
		return w.pause(step)
	}
	return nil
}

// Apply writes the journal and moves the plan's files. A file that cannot be
// moved is a Refusal; the error is of the journal or of ctx, and the outcome
// then tells what was moved before.
func (w *Worker) Apply(ctx context.Context, p *Plan) (Outcome, error) {
	out := Outcome{Refused: append([]Refusal(nil), p.Refused...)}
	if len(p.Moves) == 0 {
		return out, nil
	}
	unlock, err := outdir.Lock(w.OutDir, 0)
	if err != nil {
		return out, err
	}
	defer unlock()
	outdir.Sweep(w.OutDir)

	if err := w.enter(ctx, p); err != nil {
		return out, err
	}
	touched := map[string]bool{}
	for _, m := range p.Moves {
		refused, err := w.move(ctx, m)
		switch {
		case err != nil:
			return out, err
		case refused != nil:
			out.Refused = append(out.Refused, Refusal{m.Path, refused.Error()})
		default:
			out.Moved = append(out.Moved, m)
			touched[filepath.Dir(m.Path)], touched[filepath.Dir(m.To)] = true, true
		}
	}
	return out, syncAll(touched)
}

// enter writes the plan's moves into the journal. What an earlier journal moved can
// still be undone: it stays in the new one.
func (w *Worker) enter(ctx context.Context, p *Plan) error {
	nights, journal, err := loadJournal(w.OutDir)
	if err != nil {
		return fmt.Errorf("%w; nothing was moved", err)
	}
	if len(nights) > 0 && !slices.Equal(nights, p.Night) {
		return fmt.Errorf("the journal there is of another night's culled files, in %s: bring back first, with --undo, what is aside (%d of them); nothing was moved", quoted(nights), aside(journal))
	}
	known := map[string]int{}
	for i, m := range journal {
		known[m.Path] = i
	}
	for _, m := range p.Moves {
		if i, again := known[m.Path]; again { // back since, or never moved: the new size and time count
			journal[i] = m
		} else {
			journal = append(journal, m)
		}
	}
	if err := w.step(ctx, "write the journal"); err != nil {
		return err
	}
	if err := saveJournal(w.OutDir, p.Night, journal); err != nil {
		return fmt.Errorf("writing the journal: %w; nothing was moved", err)
	}
	return nil
}

// move moves one file; refused is why it stays where it is, err ends the work.
func (w *Worker) move(ctx context.Context, m Move) (refused, err error) {
	if err := w.step(ctx, "make a folder for "+m.Path); err != nil {
		return nil, err
	}
	if err := os.Mkdir(filepath.Dir(m.To), 0o777); err != nil && !errors.Is(err, fs.ErrExist) {
		return reason(err), nil
	}
	if err := w.step(ctx, "move "+m.Path); err != nil {
		return nil, err
	}
	if err := m.check(); err != nil {
		return err, nil
	}
	if err := renameExclusive(m.Path, m.To); err != nil {
		return renameReason(err), nil
	}
	return nil, nil
}

// Undo moves back every file of the journal that is in its culled folder. When
// none is left there it sets the journal aside, and removes culled folders that
// are empty.
func (w *Worker) Undo(ctx context.Context) (Outcome, error) {
	var out Outcome
	unlock, err := outdir.Lock(w.OutDir, 0)
	if err != nil {
		return out, err
	}
	defer unlock()
	outdir.Sweep(w.OutDir)
	_, journal, err := loadJournal(w.OutDir)
	if err != nil {
		return out, err
	}
	if journal == nil {
		return out, ErrNoJournal
	}
	touched := map[string]bool{}
	for _, m := range journal {
		if err := w.step(ctx, "move back "+m.Path); err != nil {
			return out, err
		}
		moved, err := m.back()
		switch {
		case err != nil:
			out.Refused = append(out.Refused, Refusal{m.To, err.Error()})
		case moved:
			out.Moved = append(out.Moved, m)
			touched[filepath.Dir(m.Path)], touched[filepath.Dir(m.To)] = true, true
		}
	}
	if err := syncAll(touched); err != nil {
		return out, err
	}
	if len(out.Refused) > 0 {
		return out, nil // the journal is still needed
	}
	for _, m := range journal {
		removeEmpty(filepath.Dir(m.To))
	}
	if err := w.step(ctx, "set the journal aside"); err != nil {
		return out, err
	}
	if err := os.Rename(filepath.Join(w.OutDir, JournalName), filepath.Join(w.OutDir, undoneName)); err != nil {
		return out, fmt.Errorf("all files are back; setting the journal aside: %w", err)
	}
	return out, syncFolder(w.OutDir)
}

// quoted is a list of paths that a terminal can show.
func quoted(paths []string) string {
	var q []string
	for _, p := range paths {
		q = append(q, strconv.Quote(p))
	}
	return strings.Join(q, ", ")
}

// ErrNoJournal says that there is nothing to undo.
var ErrNoJournal = errors.New("no journal: nothing was moved from here")

// back moves one file back, if it is in its culled folder.
func (m Move) back() (moved bool, err error) {
	_, from := os.Lstat(m.Path)
	_, to := os.Lstat(m.To)
	switch {
	case from == nil && errors.Is(to, fs.ErrNotExist):
		return false, nil // never moved, or back already
	case errors.Is(from, fs.ErrNotExist) && errors.Is(to, fs.ErrNotExist):
		return false, errors.New("is neither there nor where it was: moved or removed by other hands")
	case from == nil && to == nil:
		return false, errors.New("another file has its old name by now")
	case to != nil:
		return false, reason(to)
	}
	if err := m.unchanged(m.To); err != nil { // through a link that leads elsewhere by now, say
		return false, fmt.Errorf("is not the file that was moved there: it %w", err)
	}
	if err := renameExclusive(m.To, m.Path); err != nil {
		return false, renameReason(err)
	}
	return true, nil
}

func renameReason(err error) error {
	if errors.Is(err, fs.ErrExist) {
		return errors.New("the target name exists already")
	}
	return reason(err)
}

func syncAll(folders map[string]bool) error {
	var errs []error
	for f := range folders {
		errs = append(errs, syncFolder(f))
	}
	return errors.Join(errs...)
}
