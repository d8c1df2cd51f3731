package report

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"fitsqa/internal/night"
)

// output is one file of a report.
type output struct {
	name  string
	write func(io.Writer, *night.Result) error
}

// outputs are the files of every report, in the order in which they are written.
var outputs = []output{
	{"report.txt", Text},
	{"subs.csv", SubsCSV},
	{"calibration.csv", CalibrationCSV},
	{"night.json", JSON},
	{"report.html", HTML},
}

// WriteAll writes every file of the report into dir, which is made when it is
// not there. Each file is written under a temporary name in dir, flushed to
// disk and renamed once all are complete: a run that fails or is cancelled
// leaves the files of an earlier run as they were, and none of its own.
func WriteAll(ctx context.Context, dir string, r *night.Result) (err error) {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	sweepLeavings(dir, time.Now().Add(-staleAfter))
	all := append(outputs[:len(outputs):len(outputs)], mapOutputs(r)...)
	temporary := make([]string, 0, len(all))
	defer func() {
		if err != nil {
			for _, name := range temporary {
				os.Remove(name)
			}
		}
	}()
	for _, o := range all {
		name, err := writeTemporary(ctx, dir, o.name, r, o.write)
		if name != "" {
			temporary = append(temporary, name)
		}
		if err != nil {
			return fmt.Errorf("report: %s: %w", o.name, err)
		}
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	for i, o := range all {
		if err := os.Rename(temporary[i], filepath.Join(dir, o.name)); err != nil {
			return fmt.Errorf("report: %w", err)
		}
	}
	return nil
}

// temporarySuffix ends the name of a file that is being written.
const temporarySuffix = ".fitsqa-tmp"

// staleAfter is how old a temporary file must be to be the leaving of a run
// that was killed, and not the work of one that is writing now.
const staleAfter = time.Hour

// sweepLeavings removes the temporary files in dir that were last written
// before a time: a killed run had no chance to.
func sweepLeavings(dir string, before time.Time) {
	entries, _ := os.ReadDir(dir) // a folder that cannot be read cannot be written either, which is reported
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), ".") || !strings.HasSuffix(e.Name(), temporarySuffix) {
			continue
		}
		if info, err := e.Info(); err == nil && info.Mode().IsRegular() && info.ModTime().Before(before) {
			_ = os.Remove(filepath.Join(dir, e.Name())) // another run may have; one that stays is only untidy
		}
	}
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
		return fmt.Errorf("report: %w", err)
	}
	if !info.IsDir() {
		return fmt.Errorf("report: %s is not a folder", dir)
	}
	f, err := os.CreateTemp(dir, ".*"+temporarySuffix)
	if err != nil {
		return fmt.Errorf("report: %w", err)
	}
	return errors.Join(f.Close(), os.Remove(f.Name()))
}

// writeTemporary writes one output beside its place and gives the name of the
// file, also when it is incomplete.
func writeTemporary(ctx context.Context, dir, name string, r *night.Result,
	write func(io.Writer, *night.Result) error) (string, error) {
	f, err := os.CreateTemp(dir, "."+name+".*"+temporarySuffix)
	if err != nil {
		return "", err
	}
	defer f.Close()
	out := bufio.NewWriterSize(&cancelWriter{ctx, f}, 1<<16)
	if err := write(out, r); err != nil {
		return f.Name(), err
	}
	if err := out.Flush(); err != nil {
		return f.Name(), err
	}
	if err := f.Chmod(0o644); err != nil { // CreateTemp makes files private
		return f.Name(), err
	}
	if err := f.Sync(); err != nil {
		return f.Name(), err
	}
	return f.Name(), f.Close()
}

// cancelWriter fails once its context is cancelled.
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
