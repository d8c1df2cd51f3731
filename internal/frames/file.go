package frames

import (
	"os"
	"path/filepath"
)

// File is one file by itself, with its header and a few pixels read as a scan reads them,
// and an Err where they cannot be. What frames tell of each other is not settled.
func File(path string, opt ScanOptions) *Frame {
	f := &Frame{Path: path, Name: filepath.Base(path), Meta: NoMeta()}
	info, err := os.Stat(path)
	if err != nil {
		f.Err = plainError(err)
		return f
	}
	f.Size, f.ModTime = info.Size(), info.ModTime()
	f.scan(opt)
	return f
}
