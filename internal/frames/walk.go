package frames

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"fitsqa/internal/names"
)

// Links: a link to a file or folder inside the scanned folders is passed over,
// since what it points to is read under its own name; a link that leads out of
// them, or nowhere, is not followed and becomes a row that says so. So no loop
// can be walked, and no file is read twice.

// isFITS tells whether a name claims to be FITS, in any case, gzipped or
// tile-compressed too. The "._" companions that some systems strew on foreign
// disks do not count.
func isFITS(name string) bool {
	if strings.HasPrefix(name, "._") {
		return false
	}
	name = strings.TrimSuffix(strings.ToLower(name), ".gz")
	switch filepath.Ext(name) {
	case ".fit", ".fits", ".fts", ".fz":
		return true
	}
	return false
}

type walker struct {
	ctx    context.Context
	opt    ScanOptions
	skip   map[string]bool // real paths of folders not to enter
	roots  []string        // real paths
	seen   map[string]bool // real paths of folders entered
	frames []*Frame
}

// walk lists the FITS files below the roots, unread.
func walk(ctx context.Context, roots []string, opt ScanOptions) ([]*Frame, error) {
	w := &walker{ctx: ctx, opt: opt, skip: map[string]bool{}, seen: map[string]bool{}}
	for _, s := range opt.Skip {
		if p, err := realPath(s); err == nil {
			w.skip[p] = true
		}
	}
	for _, root := range roots {
		p, err := realPath(root)
		if err == nil {
			var info os.FileInfo
			if info, err = os.Stat(p); err == nil && !info.IsDir() {
				err = errors.New("it is a file: name the folder that holds it")
			}
		}
		if err != nil {
			return nil, fmt.Errorf("%w %s: %w", errRoot, Printable(root), plainError(err))
		}
		w.roots = append(w.roots, p)
	}
	labels := rootLabels(w.roots)
	for i, root := range roots {
		name := ""
		if len(roots) > 1 {
			name = labels[i]
		}
		if err := w.folder(root, w.roots[i], name, []string{filepath.Base(w.roots[i])}); err != nil {
			if ctx.Err() != nil {
				return nil, ctx.Err()
			}
			return nil, fmt.Errorf("%w %s: %w", errRoot, Printable(root), plainError(err))
		}
	}
	slices.SortFunc(w.frames, func(a, b *Frame) int { return names.Natural(a.Name, b.Name) })
	return w.frames, ctx.Err()
}

func realPath(p string) (string, error) {
	p, err := filepath.Abs(p)
	if err != nil {
		return "", err
	}
	return filepath.EvalSymlinks(p)
}

// rootLabels are the base names of the roots, numbered where they repeat.
func rootLabels(roots []string) []string {
	count := map[string]int{}
	labels := make([]string, len(roots))
	for i, r := range roots {
		base := filepath.Base(r)
		count[base]++
		if count[base] > 1 {
			base = fmt.Sprintf("%s (%d)", base, count[base])
		}
		labels[i] = base
	}
	return labels
}

// folder lists one folder: open is the path to use, real the one that names
// it, name its slash-separated place below the root, folders the names of the
// folders that lead to it.
func (w *walker) folder(open, real, name string, folders []string) error {
	if w.skip[real] || w.seen[real] {
		return nil
	}
	w.seen[real] = true
	entries, err := os.ReadDir(open)
	if err != nil && len(entries) == 0 {
		return err
	}
	for _, e := range entries {
		if err := w.ctx.Err(); err != nil {
			return err
		}
		w.entry(e, open, real, name, folders)
	}
	return nil
}

func (w *walker) entry(e fs.DirEntry, open, real, name string, folders []string) {
	base := e.Name()
	path, realHere := filepath.Join(open, base), filepath.Join(real, base)
	if name != "" {
		name += "/"
	}
	name += base
	switch {
	case e.Type()&fs.ModeSymlink != 0:
		w.link(path, name, base)
	case e.IsDir():
		if isFITS(base) {
			w.add(path, name, folders, &UnsupportedError{"a folder, not a file"})
		}
		if strings.HasPrefix(base, ".") {
			return // wastebaskets and indexes
		}
		if slices.Contains(w.opt.SkipName, base) {
			if w.opt.LeftOut != nil {
				w.opt.LeftOut(name)
			}
			return
		}
		if err := w.folder(path, realHere, name, append(folders[:len(folders):len(folders)], base)); err != nil && w.ctx.Err() == nil {
			w.add(path, name, folders, plainError(err))
		}
	case isFITS(base):
		w.add(path, name, folders, nil)
	}
}

func (w *walker) link(path, name, base string) {
	target, err := filepath.EvalSymlinks(path)
	if err != nil {
		if isFITS(base) {
			w.add(path, name, nil, &UnsupportedError{"a link that leads nowhere or in a circle"})
		}
		return
	}
	target, err = filepath.Abs(target)
	info, err2 := os.Stat(target)
	if err != nil || err2 != nil || w.inside(target) || w.skip[target] {
		return
	}
	if info.IsDir() || isFITS(base) {
		w.add(path, name, nil, &UnsupportedError{"a link out of the scanned folders, not followed: name the folder that it leads to"})
	}
}

// inside tells whether a real path lies below a root.
func (w *walker) inside(p string) bool {
	for _, r := range w.roots {
		if p == r || strings.HasPrefix(p, strings.TrimSuffix(r, string(filepath.Separator))+string(filepath.Separator)) {
			return true
		}
	}
	return false
}

// add makes the row of a file. Size and time stay 0 where the file is gone.
func (w *walker) add(path, name string, folders []string, err error) {
	f := &Frame{Path: path, Name: name, Err: err, folders: folders}
	if info, statErr := os.Lstat(path); statErr == nil {
		f.Size, f.ModTime = info.Size(), info.ModTime()
	} else if err == nil {
		f.Err = plainError(statErr)
	}
	w.frames = append(w.frames, f)
}
