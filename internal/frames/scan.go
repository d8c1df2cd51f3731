package frames

import (
	"context"
	"errors"
)

// ScanOptions steers Scan; take DefaultScanOptions and change what you need.
type ScanOptions struct {
	Workers  int                   // files read at once
	MaxBytes int64                 // largest decoded image accepted
	Skip     []string              // folders never entered (the output folder)
	Progress func(done, total int) // called from one goroutine at a time; may be nil
}

// DefaultScanOptions is what the command line starts from.
var DefaultScanOptions = ScanOptions{Workers: 2, MaxBytes: 2 << 30}

// Scan walks the folders and reads every FITS header below them: one Frame a
// file, sorted by Name, with kind and metadata settled. A file that cannot be
// read is a Frame with Err; only a root folder that cannot be opened, or ctx,
// is an error.
func Scan(ctx context.Context, roots []string, opt ScanOptions) ([]*Frame, error) {
	return nil, errors.New("scan: to be written")
}

// Read decodes the frame's first image into im, reusing its buffers. The error
// is of the same kinds as Frame.Err.
func (f *Frame) Read(im *Image) error { return errors.New("read: to be written") }
