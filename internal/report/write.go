package report

import (
	"bufio"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"golang.org/x/sync/errgroup"

	"fitsqa/internal/night"
	"fitsqa/internal/outdir"
)

type output struct {
	name  string
	write func(io.Writer, *night.Result) error
}

// reports are the files of every report, in the order of the list of checksums.
func (w *writer) reports() []output {
	return []output{
		{"report.txt", Text},
		{"subs.csv", SubsCSV},
		{"calibration.csv", CalibrationCSV},
		{"night.json", JSON},
		{"report.html", func(to io.Writer, r *night.Result) error { return pageBeside(to, r, w.shelf) }},
	}
}

// lockWait is how long a run waits for another one that writes into its folder,
// which takes a second or two.
const lockWait = time.Minute

// WriteAll writes every file of the report into dir, which is made when it is
// not there. Each file is written under a temporary name in dir, flushed to
// disk and renamed once all are complete: a run that fails or is cancelled
// leaves the files of an earlier run as they were, and none of its own. The list
// of checksums comes last and shows whether all are of one run. Maps of an
// earlier run that this one does not have are removed, as they were written.
func WriteAll(ctx context.Context, dir string, r *night.Result) error {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	unlock, err := outdir.Lock(dir, lockWait)
	if err != nil {
		return fmt.Errorf("report: %w", err)
	}
	defer unlock()
	outdir.Sweep(dir)
	w := &writer{dir: dir, shelf: &shelf{dir: dir, room: pictureBudget, used: map[string]bool{}}}
	if err := w.all(ctx, r); err != nil {
		w.takeBack()
		return fmt.Errorf("report: %w", err)
	}
	return nil
}

type writer struct {
	dir       string
	temporary []string // by output; "" for one that is not begun
	sums      outdir.Sums
	shelf     *shelf
}

func (w *writer) takeBack() {
	for _, name := range w.temporary {
		if name != "" {
			os.Remove(name)
		}
	}
	w.shelf.takeBack()
}

func (w *writer) all(ctx context.Context, r *night.Result) error {
	outputs := append(w.reports(), mapOutputs(r)...)
	names := make([]string, len(outputs))
	for i, o := range outputs {
		names[i] = o.name
	}
	if err := w.beside(ctx, r, outputs); err != nil {
		return err
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	earlier, err := outdir.ReadSums(w.dir)
	if err != nil {
		earlier = &outdir.Sums{} // no earlier run, or nothing known of it
	}
	w.shelf.made = nil
	for i, name := range append(names, outdir.SumsName) {
		if err := os.Rename(w.temporary[i], filepath.Join(w.dir, name)); err != nil {
			return err
		}
	}
	for _, name := range earlier.Names {
		if strings.HasPrefix(name, mapPrefix) && !w.sums.Has(name) && earlier.Holds(w.dir, name) {
			os.Remove(filepath.Join(w.dir, name)) // what cannot be removed is only untidy
		}
	}
	w.shelf.sweep()
	return nil
}

// beside writes the outputs and the list of their checksums beside their places. What is
// written is flushed to disk while others still are.
func (w *writer) beside(ctx context.Context, r *night.Result, outputs []output) error {
	w.temporary = make([]string, len(outputs)+1)
	sums := make([][sha256.Size]byte, len(outputs)+1)
	var written, flushed errgroup.Group
	written.SetLimit(runtime.GOMAXPROCS(0))
	write := func(i int, name string, write func(io.Writer) error) (err error) {
		var f *os.File
		if f, sums[i], err = w.write(ctx, i, name, write); err == nil {
			flushed.Go(func() error {
				if err := errors.Join(f.Sync(), f.Close()); err != nil {
					return fmt.Errorf("%s: %w", name, err)
				}
				return nil
			})
		}
		return err
	}
	for i := len(outputs) - 1; i >= 0; i-- { // the page, which takes longest, before the others
		o := outputs[i]
		written.Go(func() error { return write(i, o.name, func(to io.Writer) error { return o.write(to, r) }) })
	}
	err := written.Wait()
	if err == nil {
		for i, o := range outputs {
			w.sums.Add(o.name, sums[i])
		}
		err = write(len(outputs), outdir.SumsName, w.sums.Write)
	}
	if unflushed := flushed.Wait(); err == nil {
		err = unflushed
	}
	return err
}

// CheckWritable tells at once what WriteAll would find only after the night
// was measured: that reports cannot be written into dir. It makes no folder.
func CheckWritable(dir string) error {
	info, err := os.Stat(dir)
	for errors.Is(err, fs.ErrNotExist) && filepath.Dir(dir) != dir {
		dir = filepath.Dir(dir)
		info, err = os.Stat(dir)
	}
	if err != nil {
		return err
	}
	if !info.IsDir() {
		return fmt.Errorf("%s is not a folder", dir)
	}
	f, err := os.CreateTemp(dir, ".*"+outdir.TemporarySuffix)
	if err != nil {
		return fmt.Errorf("nothing can be written into %s: %w", dir, cause(err))
	}
	err = os.Remove(f.Name())
	if errors.Is(err, fs.ErrNotExist) {
		err = nil // another run swept it away
	}
	return errors.Join(f.Close(), err)
}

// cause is what failed, without the name that was only tried.
func cause(err error) error {
	if path, ok := errors.AsType[*fs.PathError](err); ok {
		return path.Err
	}
	return err
}

// write writes the i-th output beside its place, to be flushed, and tells its checksum.
// The file's name is noted also when it is incomplete.
func (w *writer) write(ctx context.Context, i int, name string, write func(io.Writer) error) (*os.File, [sha256.Size]byte, error) {
	var sum [sha256.Size]byte
	f, err := os.CreateTemp(w.dir, "."+name+".*"+outdir.TemporarySuffix)
	if err != nil {
		return nil, sum, fmt.Errorf("%s: %w", name, err)
	}
	w.temporary[i] = f.Name()
	hash := sha256.New()
	out := bufio.NewWriterSize(io.MultiWriter(&cancelWriter{ctx, f}, hash), 1<<16)
	if err = write(out); err == nil {
		err = out.Flush()
	}
	if err == nil {
		err = f.Chmod(0o644) // CreateTemp makes files private
	}
	if err != nil {
		f.Close()
		return nil, sum, fmt.Errorf("%s: %w", name, err)
	}
	return f, [sha256.Size]byte(hash.Sum(nil)), nil
}

type cancelWriter struct {
	ctx context.Context
	w   io.Writer
}

func (c *cancelWriter) Write(p []byte) (int, error) {
	if err := c.ctx.Err(); err != nil {
		return 0, err
	}
	return c.w.Write(p)
}
