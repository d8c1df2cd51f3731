package outdir

import (
	"bufio"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// SumsName is the list of the files of one run with their checksums, in the
// form that "sha256sum -c" takes.
const SumsName = "checksums.txt"

// Sums are the SHA-256 checksums of files, by their name in the folder.
type Sums struct {
	Names []string // in the order of the list
	of    map[string][sha256.Size]byte
}

// Add appends a file.
func (s *Sums) Add(name string, sum [sha256.Size]byte) {
	if s.of == nil {
		s.of = map[string][sha256.Size]byte{}
	}
	s.Names = append(s.Names, name)
	s.of[name] = sum
}

// Has tells whether a file is on the list.
func (s *Sums) Has(name string) bool {
	_, ok := s.of[name]
	return ok
}

// run names the run that made the files: the same files have the same name.
func (s *Sums) run() string {
	h := sha256.New()
	s.lines(h)
	return hex.EncodeToString(h.Sum(nil)[:8])
}

// Write writes the list.
func (s *Sums) Write(w io.Writer) error {
	if _, err := fmt.Fprintf(w, "# run %s; whether all files are of it: sha256sum -c %s\n", s.run(), SumsName); err != nil {
		return err
	}
	return s.lines(w)
}

func (s *Sums) lines(w io.Writer) error {
	for _, name := range s.Names {
		sum := s.of[name]
		if _, err := fmt.Fprintf(w, "%s  %s\n", hex.EncodeToString(sum[:]), name); err != nil {
			return err
		}
	}
	return nil
}

// ReadSums reads the list of a folder. Lines that are none are passed over: a
// damaged list fits no file, which is what it is asked for.
func ReadSums(dir string) (*Sums, error) {
	f, err := os.Open(filepath.Join(dir, SumsName))
	if err != nil {
		return nil, err
	}
	defer f.Close()
	s := &Sums{}
	for sc := bufio.NewScanner(io.LimitReader(f, 1<<20)); sc.Scan(); {
		sum, name, ok := strings.Cut(sc.Text(), "  ")
		raw, err := hex.DecodeString(sum)
		if ok && err == nil && len(raw) == sha256.Size && filepath.Base(name) == name {
			s.Add(name, [sha256.Size]byte(raw))
		}
	}
	return s, nil
}

// Holds tells whether the file of the folder is the one on the list.
func (s *Sums) Holds(dir, name string) bool {
	f, err := os.Open(filepath.Join(dir, name))
	if err != nil {
		return false
	}
	defer f.Close()
	h := sha256.New()
	_, err = io.Copy(h, f)
	return err == nil && s.of[name] == [sha256.Size]byte(h.Sum(nil))
}

// MixedError names the files of a folder that are not of one run.
type MixedError struct{ Names []string }

func (e *MixedError) Error() string {
	return fmt.Sprintf("%s: not of the run that %s is of (a check was stopped while it replaced its reports, or they were changed): check the night again",
		strings.Join(e.Names, ", "), SumsName)
}

// CheckOneRun tells by a *MixedError when the reports in a folder are of several
// runs. Tables may have been worked on in a spreadsheet and do not count; a
// folder without a list is taken as it is.
func CheckOneRun(dir string) error {
	s, err := ReadSums(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	var mixed []string
	for _, name := range []string{"report.txt", "night.json", "report.html"} {
		if !s.Holds(dir, name) {
			mixed = append(mixed, name)
		}
	}
	if len(mixed) > 0 {
		return &MixedError{mixed}
	}
	return nil
}

// OpenNight opens the night.json of a folder whose reports are of one run.
func OpenNight(dir string) (*os.File, error) {
	if err := CheckOneRun(dir); err != nil {
		return nil, err
	}
	f, err := os.Open(filepath.Join(dir, "night.json"))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s has no reports of a check: %w", dir, err)
	}
	return f, err
}
