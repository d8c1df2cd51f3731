package frames

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"syscall"

	"github.com/klauspost/compress/gzip"
)

// source is the bytes of a FITS file, unpacked when the file is gzipped
// (recognised by its first bytes, whatever its name; several members in a row
// are one stream).
type source struct {
	file storedFile
	size int64         // of the file as stored
	in   *bufio.Reader // of the file, nil unless gzipped
	gz   *gzip.Reader  // of one member
	r    io.Reader
	pos  int64 // unpacked bytes read or skipped
}

// openSource opens a regular file. A FIFO that takes a file's place between
// the check and the opening cannot hang the program: it is opened without
// waiting and refused.
func openSource(path string) (*source, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, plainError(err)
	}
	if err := regular(info); err != nil {
		return nil, err
	}
	f, err := openFile(path)
	if err != nil {
		return nil, plainError(err)
	}
	s, err := newSource(f)
	if err != nil {
		f.Close()
		return nil, err
	}
	return s, nil
}

type storedFile interface {
	io.Reader
	io.ReaderAt
	io.Seeker
	io.Closer
	Stat() (os.FileInfo, error)
	Name() string
}

// openFile is how files are opened; tests put failing drives here.
var openFile = func(path string) (storedFile, error) {
	return os.OpenFile(path, os.O_RDONLY|syscall.O_NONBLOCK, 0)
}

func newSource(f storedFile) (*source, error) {
	info, err := f.Stat()
	if err != nil {
		return nil, plainError(err)
	}
	if err := regular(info); err != nil {
		return nil, err
	}
	s := &source{file: f, size: info.Size(), r: f}
	var magic [2]byte
	n, err := f.ReadAt(magic[:], 0)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, plainError(err)
	}
	if n == 2 && magic == [2]byte{0x1f, 0x8b} {
		s.in = bufio.NewReaderSize(f, 256<<10)
		if s.gz, err = gzip.NewReader(s.in); err != nil {
			return nil, &FormatError{"gzip: " + err.Error()}
		}
		s.gz.Multistream(false)
		s.r = members{s}
	}
	return s, nil
}

// members is all members of a gzipped file as one stream. What is no gzip behind
// the last of them is common and does no harm.
type members struct{ s *source }

func (m members) Read(p []byte) (int, error) {
	n, err := m.s.gz.Read(p)
	if !errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return n, err
	}
	if magic, _ := m.s.in.Peek(2); len(magic) < 2 || magic[0] != 0x1f || magic[1] != 0x8b {
		return n, err
	}
	err = m.s.gz.Reset(m.s.in)
	m.s.gz.Multistream(false)
	return n, err
}

func regular(info os.FileInfo) error {
	switch mode := info.Mode(); {
	case mode.IsRegular() && info.Size() == 0:
		return &FormatError{"the file is empty"}
	case mode.IsRegular():
		return nil
	case mode.IsDir():
		return &UnsupportedError{"a folder, not a file"}
	case mode&os.ModeNamedPipe != 0:
		return &UnsupportedError{"a pipe, not a file"}
	case mode&os.ModeSocket != 0:
		return &UnsupportedError{"a socket, not a file"}
	default:
		return &UnsupportedError{"a device, not a file"}
	}
}

// plainError drops the path from an I/O error: the frame's row names it.
func plainError(err error) error {
	pe, ok := errors.AsType[*os.PathError](err)
	switch {
	case !ok:
		return err
	case errors.Is(err, fs.ErrNotExist):
		return pe.Err // which the call that found it out makes no clearer
	}
	return fmt.Errorf("cannot %s: %w", pe.Op, pe.Err)
}

// Read reads unpacked bytes. Damaged gzip data is a *FormatError; a gzip
// stream that stops short is io.ErrUnexpectedEOF.
func (s *source) Read(p []byte) (int, error) {
	n, err := s.r.Read(p)
	s.pos += int64(n)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		if errors.Is(err, gzip.ErrChecksum) {
			err = &damagedError{"gzip: the unpacked bytes do not fit their checksum"}
		} else if s.gz != nil && !is[*os.PathError](err) {
			err = &FormatError{"gzip: " + err.Error()}
		} else {
			err = plainError(err)
		}
	}
	return n, err
}

// skip moves n unpacked bytes forward. Beyond the end of a plain file it
// succeeds, and the next Read tells.
func (s *source) skip(n int64) error {
	if n <= 0 {
		return nil
	}
	if s.gz == nil {
		s.pos += n
		_, err := s.file.Seek(s.pos, io.SeekStart)
		return plainError(err)
	}
	_, err := io.CopyN(io.Discard, readerOnly{s}, n)
	return err
}

// maxBehind is how much is unpacked behind an image to reach a checksum: it
// takes no memory, but time.
const maxBehind = 4 << 30

// drain unpacks what is left of a gzipped file, so that all of it is compared
// with its checksums.
func (s *source) drain() error {
	if s.gz == nil {
		return nil
	}
	_, err := io.CopyN(io.Discard, readerOnly{s}, maxBehind)
	switch {
	case err == nil:
		return &UnsupportedError{fmt.Sprintf("more than %d GiB behind the image", maxBehind>>30)}
	case errors.Is(err, io.ErrUnexpectedEOF):
		return &damagedError{"gzip: it ends before its checksum"}
	case errors.Is(err, io.EOF):
		return nil
	}
	return err
}

// readerOnly hides every method but Read, so that copies go through
// source.Read, which counts.
type readerOnly struct{ io.Reader }

// Close closes the file.
func (s *source) Close() error { return s.file.Close() }
