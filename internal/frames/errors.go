package frames

import (
	"errors"
	"fmt"
	"io"
	"runtime/debug"
)

// FormatError says that a file breaks the FITS standard in a way that leaves
// its image unreadable.
type FormatError struct{ Reason string }

func (e *FormatError) Error() string { return "malformed: " + e.Reason }

// UnsupportedError says that a file is valid but of a kind this program does
// not read.
type UnsupportedError struct{ Feature string }

func (e *UnsupportedError) Error() string { return "not supported: " + e.Feature }

// TruncatedError says that a file ends before its image does.
type TruncatedError struct {
	Have, Want int64 // bytes of the whole file, as stored or (gzip) as unpacked; Want is 0 where the part that tells is cut off
	Reserved   bool  // the file is as long as it should be, but nothing was written after what it has
}

func (e *TruncatedError) Error() string {
	if e.Want == 0 {
		return fmt.Sprintf("it ends after %d bytes, before its image begins", e.Have)
	}
	said := fmt.Sprintf("%d of %d bytes arrived (%.3g %%)", e.Have, e.Want, 100*float64(e.Have)/float64(e.Want))
	if e.Reserved {
		said += ", zeros stand for the rest"
	}
	return said
}

// InternalError says that this program failed on a file: a mistake of its own,
// whatever the file is like.
type InternalError struct {
	Panic string
	Stack string // where it happened, for whoever mends it
}

func (e *InternalError) Error() string {
	return "internal error of this program, please report it: " + e.Panic
}

// CatchPanic, deferred, makes a panic into the error of the function that
// defers it: a mistake in here must cost one file, not the night.
func CatchPanic(err *error) {
	if p := recover(); p != nil {
		*err = &InternalError{Printable(fmt.Sprint(p)), string(debug.Stack())}
	}
}

// isEnd tells that bytes ended too early.
func isEnd(err error) bool { return errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) }
