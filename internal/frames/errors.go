package frames

import "fmt"

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
	Have, Want int64 // bytes of the whole file, as stored or (gzip) as unpacked
}

func (e *TruncatedError) Error() string {
	return fmt.Sprintf("truncated: %d of %d bytes arrived (%.0f %%)", e.Have, e.Want, 100*float64(e.Have)/float64(e.Want))
}
