package main

import (
	"context"

	"github.com/spf13/pflag"

	"fitsqa/internal/ledger"
	"fitsqa/internal/night"
	"fitsqa/internal/plan"
)

// seasonFlags say where check keeps the season's ledger.
type seasonFlags struct {
	path string
	off  bool
}

func (f *seasonFlags) addFlags(fs *pflag.FlagSet) {
	fs.StringVar(&f.path, "ledger", f.path, "ledger `file` of the season, when not the one in the user's data folder")
	fs.BoolVar(&f.off, "no-ledger", f.off, "keep no ledger, and count no earlier nights towards goals")
}

// open is the ledger; nil when none is wanted.
func (f *seasonFlags) open(ctx context.Context) (*ledger.Ledger, error) {
	if f.off {
		return nil, nil
	}
	path := f.path
	if path == "" {
		var err error
		if path, err = ledger.DefaultPath(); err != nil {
			return nil, err
		}
	}
	return ledger.Open(ctx, path)
}

// earlier is the clear time of the nights that the ledger holds.
func (f *seasonFlags) earlier(ctx context.Context) ([]plan.Earlier, error) {
	l, err := f.open(ctx)
	if l == nil {
		return nil, err
	}
	defer l.Close()
	return l.Earlier(ctx)
}

// record keeps the night in the ledger.
func (f *seasonFlags) record(ctx context.Context, r *night.Result) error {
	l, err := f.open(ctx)
	if l == nil {
		return err
	}
	defer l.Close()
	return l.Record(ctx, ledger.Of(r))
}
