package report

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"

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

// writeTemporary writes one output beside its place and gives the name of the
// file, also when it is incomplete.
func writeTemporary(ctx context.Context, dir, name string, r *night.Result,
	write func(io.Writer, *night.Result) error) (string, error) {
	f, err := os.CreateTemp(dir, "."+name+".*.tmp")
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
