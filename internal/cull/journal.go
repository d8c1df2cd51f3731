package cull

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"
)

// The journal is text, one entry a line:
//
//	fitsqa cull journal 1
//	night "FOLDER"
//	move SIZE MODIFIED "FROM" "TO"
//	end COUNT
//
// FOLDER is one that was analysed; a journal belongs to one night, and one
// without such a line to any. SIZE in bytes, MODIFIED in UTC to the nanosecond, the paths absolute and
// quoted in ASCII with Go's escapes, so that any name fits on its line and any
// eye can undo by hand. The last line shows that the journal is whole.
const journalHead = "fitsqa cull journal 1"

// maxJournalLine bounds one line: two paths of 4096 bytes, four bytes each.
const maxJournalLine = 1 << 16

type journalError struct {
	Line int // from 1
	Msg  string
}

func (e *journalError) Error() string { return fmt.Sprintf("journal, line %d: %s", e.Line, e.Msg) }

func writeJournal(w io.Writer, nights []string, moves []Move) error {
	var b bytes.Buffer
	fmt.Fprintln(&b, journalHead)
	for _, n := range nights {
		fmt.Fprintf(&b, "night %s\n", strconv.QuoteToASCII(n))
	}
	for _, m := range moves {
		fmt.Fprintf(&b, "move %d %s %s %s\n", m.Size, m.Modified.UTC().Format(time.RFC3339Nano), strconv.QuoteToASCII(m.Path), strconv.QuoteToASCII(m.To))
	}
	fmt.Fprintf(&b, "end %d\n", len(moves))
	_, err := w.Write(b.Bytes())
	return err
}

// parseJournal reads a journal. Its error is a *journalError or comes from r.
func parseJournal(r io.Reader) (nights []string, moves []Move, err error) {
	sc := bufio.NewScanner(r)
	sc.Buffer(nil, maxJournalLine)
	line, ended := 0, false
	for sc.Scan() {
		line++
		text := sc.Text()
		bad := func(format string, args ...any) ([]string, []Move, error) {
			return nil, nil, &journalError{line, fmt.Sprintf(format, args...)}
		}
		switch {
		case line == 1:
			if text != journalHead {
				return bad("begins with %q, not %q", text, journalHead)
			}
		case ended:
			return bad("more after the end")
		case strings.HasPrefix(text, "night ") && len(moves) == 0:
			n, err := strconv.Unquote(text[len("night "):])
			if err != nil {
				return bad("a folder is not quoted")
			}
			nights = append(nights, n)
		case strings.HasPrefix(text, "move "):
			m, err := parseMove(text[len("move "):])
			if err != nil {
				return bad("%v", err)
			}
			moves = append(moves, m)
		case text == fmt.Sprintf("end %d", len(moves)):
			ended = true
		default:
			return bad("neither a move nor the end after %d moves: %.40q", len(moves), text)
		}
	}
	if err := sc.Err(); err == bufio.ErrTooLong {
		return nil, nil, &journalError{line + 1, "too long"}
	} else if err != nil {
		return nil, nil, err
	}
	if !ended {
		return nil, nil, &journalError{line, "the end is missing"}
	}
	return nights, moves, nil
}

func parseMove(text string) (Move, error) {
	var m Move
	size, rest, _ := strings.Cut(text, " ")
	modified, rest, _ := strings.Cut(rest, " ")
	var err error
	if m.Size, err = strconv.ParseInt(size, 10, 64); err != nil || m.Size < 0 {
		return m, fmt.Errorf("bad size %q", size)
	}
	if m.Modified, err = time.Parse(time.RFC3339Nano, modified); err != nil {
		return m, fmt.Errorf("bad time %q", modified)
	}
	for _, p := range []*string{&m.Path, &m.To} {
		quoted, err := strconv.QuotedPrefix(rest)
		if err != nil || quoted[0] != '"' {
			return m, fmt.Errorf("a path is not quoted")
		}
		*p, _ = strconv.Unquote(quoted)
		rest = strings.TrimPrefix(rest[len(quoted):], " ")
	}
	if rest != "" {
		return m, fmt.Errorf("more after the paths")
	}
	// What a journal makes undo rename is a file in a folder "culled", back into the folder above.
	if !filepath.IsAbs(m.Path) || filepath.Clean(m.Path) != m.Path || m.To != filepath.Join(filepath.Dir(m.Path), Folder, filepath.Base(m.Path)) {
		return m, fmt.Errorf("the paths are not those of a culled file")
	}
	return m, nil
}

// loadJournal reads the journal of an output folder; no journal is no moves.
func loadJournal(outdir string) (nights []string, moves []Move, err error) {
	f, err := os.Open(filepath.Join(outdir, JournalName))
	if os.IsNotExist(err) {
		return nil, nil, nil
	}
	if err != nil {
		return nil, nil, err
	}
	defer f.Close()
	return parseJournal(f)
}

// Aside tells of which night's folders the journal in an output folder is, and how
// many files undo would bring back from their culled folders.
func Aside(outdir string) (night []string, files int, err error) {
	night, journal, err := loadJournal(outdir)
	return night, aside(journal), err
}

func aside(journal []Move) (files int) {
	for _, m := range journal {
		if _, err := os.Lstat(m.To); err == nil {
			files++
		}
	}
	return files
}

// saveJournal puts a journal in place durably: whatever happens, the old one
// or the new one is there, whole.
func saveJournal(outdir string, nights []string, moves []Move) (err error) {
	temporary := filepath.Join(outdir, JournalName+".new")
	f, err := os.Create(temporary)
	if err != nil {
		return err
	}
	if err = writeJournal(f, nights, moves); err == nil {
		err = f.Sync()
	}
	if closeErr := f.Close(); err == nil {
		err = closeErr
	}
	if err != nil {
		return err
	}
	if err := os.Rename(temporary, filepath.Join(outdir, JournalName)); err != nil {
		return err
	}
	return syncFolder(outdir)
}
