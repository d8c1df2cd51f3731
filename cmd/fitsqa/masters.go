package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"

	"fitsqa/internal/calib"
	"fitsqa/internal/fact"
	"fitsqa/internal/night"
)

// checkMasters refuses a folder for masters inside a source folder, and one that
// holds masters already: they may be of another night.
func (o *checkOptions) checkMasters(roots []string) error {
	if o.masters == "" {
		return nil
	}
	if err := outsideAll("folder for masters", o.masters, "--masters", roots); err != nil {
		return err
	}
	entries, err := os.ReadDir(o.masters)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), calib.MasterPrefix) || strings.HasPrefix(e.Name(), calib.DefectPrefix) {
			return fmt.Errorf("%s holds masters already, such as %s; name another folder with --masters", o.masters, e.Name())
		}
	}
	return nil
}

// writeMasters writes them, where that was asked for, and tells how many.
func (o *checkOptions) writeMasters(stderr io.Writer, r *night.Result) error {
	if o.masters == "" {
		return nil
	}
	if err := os.MkdirAll(o.masters, 0o777); err != nil {
		return err
	}
	names, err := r.Calib.WriteMasters(o.masters, "fitsqa "+programVersion())
	if err == nil {
		fmt.Fprintf(stderr, "%s of masters and defects in %s\n", fact.Plural(len(names), "file"), printable(o.masters))
	}
	return err
}
