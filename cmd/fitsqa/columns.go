package main

import (
	"io"
	"os"

	"golang.org/x/term"
)

// columns is how wide the terminal is that w writes to; 100 where w is none.
func columns(w io.Writer) int {
	if f, ok := w.(*os.File); ok {
		if n, _, err := term.GetSize(int(f.Fd())); err == nil && n > 0 {
			return n
		}
	}
	return 100
}
