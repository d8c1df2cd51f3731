// Package decisions keeps the user's own verdicts of a night in its output
// folder: a small text file that any editor can read, written whole at every
// mark, so that a crash loses none.
//
// Decisions are on what files hold, not on their names (see
// frames.Fingerprint): they follow a file that is renamed or moved aside, hold
// for a later check into the same folder, and never touch another night's file
// of the same name.
package decisions

import (
	"bufio"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"

	"fitsqa/internal/subs"
)

// FileName is the file in the output folder.
const FileName = "decisions.txt"

// Load reads a decision file.
func Load(path string) ([]subs.Decision, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("decisions: %w", err)
	}
	defer f.Close()
	all, err := subs.ParseDecisions(f)
	if err != nil {
		return nil, fmt.Errorf("decisions %s: %w", path, err)
	}
	return all, nil
}

// Of reads the decisions kept in an output folder; none when it has none.
func Of(outdir string) ([]subs.Decision, error) {
	all, err := Load(filepath.Join(outdir, FileName))
	if errors.Is(err, fs.ErrNotExist) || errors.Is(err, syscall.ENOTDIR) { // where a folder cannot be, nothing was kept
		return nil, nil
	}
	return all, err
}

// With is some decisions and d in place of any on the same file; a d without a
// verdict only takes those away. Lines on other files stay as they are, also of
// nights that are not there now.
func With(all []subs.Decision, d subs.Decision) []subs.Decision {
	out := make([]subs.Decision, 0, len(all)+1)
	for _, old := range all {
		same := old.Content == d.Content && (d.Content != "" || old.Name == d.Name)
		byName := old.Content == "" && old.Name == d.Name // written by hand
		if !same && !byName {
			out = append(out, old)
		}
	}
	if d.Verdict != "" {
		out = append(out, d)
	}
	return out
}

// Save puts the decisions of an output folder in place: whatever happens, the
// old file or the new one is there, whole.
func Save(outdir string, all []subs.Decision) (err error) {
	// Not a temporary name of reports: a check that begins sweeps those away.
	f, err := os.CreateTemp(outdir, "."+FileName+".*.new")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			os.Remove(f.Name())
		}
	}()
	w := bufio.NewWriter(f)
	fmt.Fprintln(w, "# Own verdicts, read by fitsqa check, review and cull. The content says which file is meant.")
	for _, d := range all {
		fmt.Fprintln(w, d)
	}
	err = errors.Join(w.Flush(), f.Chmod(0o644), f.Sync(), f.Close())
	if err != nil {
		return err
	}
	return os.Rename(f.Name(), filepath.Join(outdir, FileName))
}
