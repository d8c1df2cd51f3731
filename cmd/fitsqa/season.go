package main

import (
	"context"
	"errors"
	"io/fs"

	"github.com/spf13/pflag"

	"fitsqa/internal/ledger"
	"fitsqa/internal/night"
)

// seasonFlags say where check keeps the season's ledger.
type seasonFlags struct {
	path string
	off  bool

	health []ledger.Series // of cameras, as recalled
}

func (f *seasonFlags) addFlags(fs *pflag.FlagSet) {
	fs.StringVar(&f.path, "ledger", f.path, "ledger `file` of the season, when not the one in the user's data folder")
	fs.BoolVar(&f.off, "no-ledger", f.off, "record nothing in the ledger, and count no earlier nights towards goals")
}

func (f *seasonFlags) file() (string, error) {
	if f.path != "" {
		return f.path, nil
	}
	return ledger.DefaultPath()
}

// checkOutside refuses a ledger inside a source folder: sources are only read.
func (f *seasonFlags) checkOutside(roots []string) error {
	path, err := f.file()
	if f.off || err != nil {
		return nil // recall tells
	}
	return outsideAll("ledger", path, "--ledger, or do without by --no-ledger", roots)
}

// recall takes over what the ledger holds of other nights, or the reason why
// that is unknown. No ledger yet is none.
func (f *seasonFlags) recall(ctx context.Context, s *night.Settings) {
	if f.off {
		return
	}
	err := f.read(ctx, s)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		s.NoLedger = oneLine(err)
	}
}

func (f *seasonFlags) read(ctx context.Context, s *night.Settings) error {
	path, err := f.file()
	if err != nil {
		return err
	}
	l, err := ledger.OpenExisting(ctx, path)
	if err != nil {
		return err
	}
	defer l.Close()
	earlier, err := l.Earlier(ctx)
	if err != nil {
		return err
	}
	camera, err := l.Remembered(ctx)
	if err != nil {
		return err
	}
	season, err := l.Season(ctx)
	if err != nil {
		return err
	}
	hot, err := l.HotMaps(ctx)
	if err != nil {
		return err
	}
	if f.health, err = l.Health(ctx); err != nil {
		return err
	}
	s.Earlier, s.Camera, s.HotMaps, s.Season = earlier, camera, hot, season
	return nil
}

func (f *seasonFlags) record(ctx context.Context, r *night.Result) error {
	if f.off {
		return nil
	}
	path, err := f.file()
	if err != nil {
		return err
	}
	l, err := ledger.Open(ctx, path)
	if err != nil {
		return err
	}
	defer l.Close()
	return l.Record(ctx, ledger.Of(r))
}
