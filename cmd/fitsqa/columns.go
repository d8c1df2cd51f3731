package main

import (
	"io"

	"golang.org/x/term"
)

// columns is how wide the terminal is that w writes to; 100 where w is none.
func columns(w io.Writer) int {
	if f := terminal(w); f != nil {
		if n, _, err := term.GetSize(int(f.Fd())); err == nil && n > 0 {
			return n
		}
	}
	return 100
}
