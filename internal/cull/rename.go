package cull

import (
	"errors"
	"io/fs"
	"os"
)

// renameChecked is the portable form of renameExclusive: it looks before it
// renames. A name that another program creates in between would be replaced,
// which is why it is used only where nothing better exists. A link and an
// unlink would be exclusive, but a kill between them leaves two names.
func renameChecked(from, to string) error {
	_, err := os.Lstat(to)
	if err == nil {
		return &os.LinkError{Op: "rename", Old: from, New: to, Err: fs.ErrExist}
	}
	if !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return os.Rename(from, to)
}
