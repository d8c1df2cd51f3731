package frames

import (
	"errors"
	"io/fs"
)

// SystemError tells that a file could not be read for reasons that lie with the
// system and not with the file: a device that failed, a permission that is
// lacking, a file that vanished.
func SystemError(err error) bool {
	return err != nil && !is[*FormatError](err) && !is[*UnsupportedError](err) && !is[*TruncatedError](err) &&
		!is[*damagedError](err) && !is[*InternalError](err)
}

// SaysNothing tells that an error is no fault of the file's: the system or this
// program could not read it.
func SaysNothing(err error) bool {
	return SystemError(err) || is[*UnsupportedError](err) || is[*InternalError](err)
}

// is tells whether an error is of a type, or holds one.
func is[T error](err error) bool {
	_, ok := errors.AsType[T](err)
	return ok
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
