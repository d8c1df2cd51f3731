package review

import (
	"errors"
	"fmt"
	"sync"

	"fitsqa/internal/cull"
	"fitsqa/internal/decisions"
	"fitsqa/internal/subs"
)

// book is the user's marks on the night, kept in the output folder at every
// change, and sent to every page that is open.
type book struct {
	outdir string

	mu      sync.Mutex
	night   *nightFiles
	marks   []string // of each sub; "" for none
	version int
	content map[int]string // fingerprints learnt so far, by sub
	readers map[chan change]bool
}

type change struct {
	Version int            `json:"version"`
	Marks   map[int]string `json:"marks"` // by sub; "" for none
	Moved   map[int]bool   `json:"moved"` // by sub: in its culled folder, or back
}

func newBook(outdir string, n *nightFiles) (*book, error) {
	b := &book{outdir: outdir, night: n, marks: make([]string, len(n.subs)), content: map[int]string{}, readers: map[chan change]bool{}}
	return b, b.load()
}

// load reads the decisions that are kept, the caller being alone or holding mu.
func (b *book) load() error {
	all, err := decisions.Of(b.outdir)
	if err != nil {
		return err
	}
	files := b.night.files()
	decisions.Apply(files, all)
	for i := range files {
		b.marks[i] = files[i].Decision
	}
	return nil
}

func (b *book) all() change {
	b.mu.Lock()
	defer b.mu.Unlock()
	c := change{Version: b.version, Marks: map[int]string{}, Moved: map[int]bool{}}
	for i, s := range b.night.subs {
		if b.marks[i] != "" {
			c.Marks[i] = b.marks[i]
		}
		if _, moved, err := s.place(); err == nil && moved {
			c.Moved[i] = true
		}
	}
	return c
}

var errMark = errors.New(`a mark is "keep", "cull" or empty, on a sub of this night`)

// set marks subs: each with "keep", "cull" or "" to take the mark back. It
// returns what was refused, with the reason; the rest is on disk when it returns.
func (b *book) set(marks map[int]string) (refused map[int]string, err error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for i, m := range marks {
		if i < 0 || i >= len(b.night.subs) || m != "" && m != "keep" && m != "cull" {
			return nil, errMark
		}
	}
	all, err := decisions.Of(b.outdir) // another hand may have written since
	if err != nil {
		return nil, err
	}
	refused = map[int]string{}
	done := change{Marks: map[int]string{}, Moved: map[int]bool{}}
	for i, m := range marks {
		content, err := b.contentOf(i)
		if err != nil {
			refused[i] = err.Error()
			continue
		}
		all = decisions.With(all, subs.Decision{Verdict: subs.Verdict(m), Name: b.name(i), Content: content})
		done.Marks[i] = m
	}
	if len(done.Marks) == 0 {
		return refused, nil
	}
	if err := decisions.Save(b.outdir, all); err != nil {
		return nil, fmt.Errorf("the decisions could not be written: %w", err)
	}
	for i, m := range done.Marks {
		b.marks[i] = m
	}
	b.tell(done)
	return refused, b.writeLists()
}

func (b *book) name(i int) string {
	if s := b.night.subs[i]; s.Name != "" {
		return s.Name
	}
	return b.night.subs[i].Path
}

// contentOf is the fingerprint of a sub's file as it was analysed.
func (b *book) contentOf(i int) (string, error) {
	s := b.night.subs[i]
	if _, _, err := s.place(); err != nil {
		return "", err
	}
	if c := b.content[i]; c != "" {
		return c, nil
	}
	c := decisions.Content(s.Path)
	if c == "" {
		return "", errors.New("the file cannot be read")
	}
	b.content[i] = c
	return c, nil
}

// tell hands a change to every page, the caller holding mu. A page that does not
// listen is dropped: it asks for all again.
func (b *book) tell(c change) {
	b.version++
	c.Version = b.version
	for r := range b.readers {
		select {
		case r <- c:
		default:
			delete(b.readers, r)
			close(r)
		}
	}
}

// listen is a stream of changes until stop is called.
func (b *book) listen() (changes <-chan change, stop func()) {
	r := make(chan change, 16)
	b.mu.Lock()
	defer b.mu.Unlock()
	b.readers[r] = true
	return r, func() {
		b.mu.Lock()
		defer b.mu.Unlock()
		if b.readers[r] {
			delete(b.readers, r)
			close(r)
		}
	}
}

func (b *book) files() []cull.Sub {
	b.mu.Lock()
	defer b.mu.Unlock()
	files := b.night.files()
	for i := range files {
		files[i].Decision = b.marks[i]
	}
	return files
}

func (b *book) writeLists() error {
	var all []cull.Listed
	for i, s := range b.night.subs {
		s.Decision = b.marks[i]
		all = append(all, cull.Listed{Sub: s.Sub, Target: s.Target, Exposure: s.Exposure, Weight: s.Weight})
	}
	if err := cull.WriteLists(b.outdir, all); err != nil {
		return fmt.Errorf("the lists of what stays could not be written: %w", err)
	}
	return nil
}
