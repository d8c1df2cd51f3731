package frames

import (
	"errors"
	"io/fs"
)

// SystemError tells that a file could not be read for reasons that lie with the
// system and not with the file: a device that failed, a permission that is
// lacking, a file that vanished.
func SystemError(err error) bool {
	var format *FormatError
	var unsupported *UnsupportedError
	var truncated *TruncatedError
	var damaged *damagedError
	var internal *InternalError
	return err != nil && !errors.As(err, &format) && !errors.As(err, &unsupported) && !errors.As(err, &truncated) &&
		!errors.As(err, &damaged) && !errors.As(err, &internal)
}

// SaysNothing tells that an error is no fault of the file's: the system or this
// program could not read it.
func SaysNothing(err error) bool {
	var unsupported *UnsupportedError
	var internal *InternalError
	return SystemError(err) || errors.As(err, &unsupported) || errors.As(err, &internal)
}

// Again reads a file, and once more where the system failed in a way that may
// pass: drives that wake up and networks that hiccup fail once. What read does
// must begin anew each time.
func Again(read func() error) error {
	err := read()
	if SystemError(err) && !errors.Is(err, fs.ErrNotExist) && !errors.Is(err, fs.ErrPermission) {
		return read()
	}
	return err
}
