package main

import (
	"io"
	"os"
	"strconv"
	"unicode/utf8"

	"golang.org/x/term"

	"fitsqa/internal/frames"
)

// plainText is the one way to standard output and standard error: nothing that
// a terminal would obey gets through, whatever file names, headers or a
// night.json hold. Line breaks and tabs do; who prints a name takes them out of
// it.
type plainText struct {
	w    io.Writer
	tail []byte // the beginning of a character that is cut by the end of a write
}

// Write implements io.Writer.
func (t *plainText) Write(p []byte) (int, error) {
	text := append(t.tail, p...)
	end := len(text)
	for back := 1; back < utf8.UTFMax && back <= end; back++ {
		if utf8.RuneStart(text[end-back]) {
			if !utf8.FullRune(text[end-back:]) {
				end -= back
			}
			break
		}
	}
	t.tail = append([]byte(nil), text[end:]...)
	return len(p), t.write(text[:end])
}

// flush writes what was held back, once nothing comes any more.
func (t *plainText) flush() {
	_ = t.write(t.tail) // what could not be written to a terminal cannot be told there
	t.tail = nil
}

func (t *plainText) write(text []byte) error {
	var out []byte
	from := 0
	for i, b := range text {
		if b == '\n' || b == '\t' {
			out = append(append(out, frames.Printable(string(text[from:i]))...), b)
			from = i + 1
		}
	}
	out = append(out, frames.Printable(string(text[from:]))...)
	_, err := t.w.Write(out)
	return err
}

// terminal is the terminal behind a writer; nil when there is none.
func terminal(w io.Writer) *os.File {
	if t, ok := w.(*plainText); ok {
		w = t.w
	}
	if f, ok := w.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		return f
	}
	return nil
}

// toTools is a writer for what other programs read to the byte: as it is,
// unless people would see it.
func toTools(w io.Writer) io.Writer {
	if t, ok := w.(*plainText); ok && terminal(w) == nil {
		return t.w
	}
	return w
}

// oneLine is an error as one line: what it names cannot begin another.
func oneLine(err error) string { return frames.Printable(err.Error()) }

// printable is a path that a terminal can show: quoted where it holds control
// characters or bytes that are no text.
func printable(path string) string {
	quoted := strconv.Quote(path)
	if quoted == `"`+path+`"` {
		return path
	}
	return quoted
}
