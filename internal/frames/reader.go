package frames

import (
	"fmt"
	"io"
	"math"
	"slices"
)

// Reader yields a frame's image strip by strip, so that a thousand frames can
// be stacked side by side in bounded memory. It reads forward only, plain,
// gzipped and tile-compressed files alike. Close it after use; it is not for
// several goroutines at once.
type Reader struct {
	Layout // shape of the image that Rows delivers, overscan trimmed
	src    *source
	u      *unit
	data   io.Reader // stored samples, row after row of the untrimmed image
	row    int       // next row to deliver, counted through all planes
	stored int       // next row in data
	buf    *[]byte

	verified bool    // the file fits its checksums
	sum      onesSum // of the stored bytes that went by without a gap
}

// Open opens the frame for reading rows. Its errors are those of Read.
func (f *Frame) Open() (opened *Reader, err error) {
	defer CatchPanic(&err)
	s, err := openSource(f.Path)
	if err != nil {
		return nil, err
	}
	r, err := f.newReader(s)
	if err != nil {
		s.Close()
		return nil, err
	}
	return r, nil
}

func (f *Frame) newReader(s *source) (*Reader, error) {
	maxBytes := f.maxBytes
	if maxBytes == 0 {
		maxBytes = DefaultScanOptions.MaxBytes
	}
	u, _, err := locate(s, maxBytes)
	if err != nil {
		return nil, err
	}
	u.sections(&Meta{})
	u.zero += f.zeroAdded
	u.undivide(f.parts)
	if f.Image.Width != 0 && f.Image != u.layout(s) {
		return nil, &FormatError{"the file changed since it was scanned"}
	}
	if err := u.fits(maxBytes); err != nil {
		return nil, err
	}
	if err := u.holds(s); err != nil {
		return nil, err
	}
	r := &Reader{Layout: u.layout(s), src: s, u: u, buf: new([]byte)}
	r.data, err = r.open()
	return r, err
}

func (u *unit) layout(s *source) Layout {
	l := Layout{Width: u.trim.X1 - u.trim.X0, Height: u.trim.Y1 - u.trim.Y0, Planes: u.planes, Bitpix: u.bitpix}
	if s.gz != nil {
		l.Compression = "gzip"
	}
	if u.tiles != nil {
		l.Compression = u.tiles.Algorithm
		l.Unpacking = u.tiles.WorkBytes()
		if s.gz != nil {
			l.Unpacking += u.dataBytes
		}
	}
	return l
}

func (u *unit) fits(maxBytes int64) error {
	size := int64(4)
	if u.shortSamples() {
		size = 2
	}
	if need := size * int64(u.width) * int64(u.height) * int64(u.planes); need > maxBytes {
		return &UnsupportedError{fmt.Sprintf("an image of %d x %d x %d pixels needs %d MB, above the memory cap of %d MB",
			u.width, u.height, u.planes, need>>20, maxBytes>>20)}
	}
	return nil
}

// open is the stored samples of the image as they are without any compression.
func (r *Reader) open() (io.Reader, error) {
	if r.u.tiles != nil {
		return r.openTiles()
	}
	return r.src, nil
}

// WholeNumbers tells that every strip will come as U16. Of other files a strip
// is U16 when its own samples are whole numbers of 0 to 65535, F32 otherwise.
func (r *Reader) WholeNumbers() bool { return r.u.wholeSamples() }

// Rows decodes the next n rows, or fewer at the end, into im, reusing its
// buffers, and returns how many came; io.EOF when none are left. Rows run
// through all planes of a colour cube, one plane after the other; im has them
// as Height rows of one plane.
func (r *Reader) Rows(im *Image, n int) (got int, err error) {
	defer CatchPanic(&err)
	n = min(n, r.rows()-r.row)
	if n <= 0 {
		return 0, io.EOF
	}
	im.Width, im.Height, im.Planes = r.Width, n, 1
	return n, r.fill(im, n)
}

// Floats decodes the next rows to floating point, into dst when that is large enough:
// as many as stay in the processor's cache, at most n, all of one plane; io.EOF when none
// are left.
func (r *Reader) Floats(dst []float32, n int) (read []float32, err error) {
	defer CatchPanic(&err)
	n = min(n, r.strip(), r.rows()-r.row)
	if n <= 0 {
		return nil, io.EOF
	}
	raw, got, err := r.raw(n)
	if err != nil {
		return nil, err
	}
	dst = slices.Grow(dst[:0], got*r.Width)[:got*r.Width]
	r.float(dst, raw)
	return dst, nil
}

// Skip passes over n rows, or what is left of them, without decoding them.
func (r *Reader) Skip(n int) { r.row = min(r.row+max(n, 0), r.rows()) }

// Close closes the file.
func (r *Reader) Close() error { return r.src.Close() }

// Share has r read through the buffer of another, which one goroutine asks in turn with
// it: it stays in the processor's cache.
func (r *Reader) Share(other *Reader) { r.buf = other.buf }

func (r *Reader) rows() int { return r.Height * r.Planes }

// stripBytes is how much is read at a time: it stays in the processor's cache
// between reading and decoding.
const stripBytes = 256 << 10

func (r *Reader) fill(im *Image, n int) error {
	total := n * r.Width
	short := r.u.shortSamples()
	if short {
		im.startU16()
	} else {
		im.startF32()
	}
	for n > 0 {
		raw, got, err := r.raw(min(n, r.strip()))
		if err != nil {
			return err
		}
		n -= got
		if have := len(im.U16) + len(im.F32); r.provenBy(have, total) {
			im.reserve(total - have)
		}
		if short {
			short = r.short(more(&im.U16, got*r.Width), raw)
			if short {
				continue
			}
			im.U16 = im.U16[:len(im.U16)-got*r.Width]
			im.becomeF32(cap(im.U16))
		}
		r.float(more(&im.F32, got*r.Width), raw)
	}
	im.settle()
	return nil
}

func (r *Reader) strip() int { return max(1, stripBytes/int(r.stride())) }

// maxUnproven is how many times more memory is taken for a compressed image
// than has been unpacked of it so far.
const maxUnproven = 8

// provenBy tells whether room for a total of samples may be taken when some
// have come: at once where the file was seen to hold them; of a compressed one
// a part must have come first.
func (r *Reader) provenBy(have, total int) bool {
	return r.plain() || have >= total/maxUnproven
}

// plain tells whether the file holds the samples as they are.
func (r *Reader) plain() bool { return r.src.gz == nil && r.u.tiles == nil }

// short decodes whole stored rows to 16 bits, without what the trim section
// leaves out; false when a sample is negative.
func (r *Reader) short(dst []uint16, raw []byte) bool {
	if r.Width == r.u.width {
		return r.u.decodeU16(dst, raw)
	}
	ok := true
	for len(dst) > 0 {
		ok = r.u.decodeU16(dst[:r.Width], r.trimmed(raw)) && ok
		dst, raw = dst[r.Width:], raw[r.stride():]
	}
	return ok
}

// float decodes whole stored rows to floating point; top is as decodeF32's.
func (r *Reader) float(dst []float32, raw []byte) (top float32) {
	if r.Width == r.u.width {
		return r.u.decodeF32(dst, raw)
	}
	top = float32(math.Inf(-1))
	for len(dst) > 0 {
		top = max(top, r.u.decodeF32(dst[:r.Width], r.trimmed(raw)))
		dst, raw = dst[r.Width:], raw[r.stride():]
	}
	return top
}

// trimmed is the bytes of the first row that the trim section keeps.
func (r *Reader) trimmed(raw []byte) []byte {
	n := r.u.bytesPerSample()
	return raw[r.u.trim.X0*n : r.u.trim.X1*n]
}

func (r *Reader) stride() int64 { return int64(r.u.width) * int64(r.u.bytesPerSample()) }

func (r *Reader) raw(n int) ([]byte, int, error) {
	plane, y := r.row/r.Height, r.row%r.Height
	n = min(n, r.Height-y)
	row := plane*r.u.height + r.u.trim.Y0 + y
	if err := r.pass(int64(row-r.stored) * r.stride()); err != nil {
		return nil, 0, r.truncated(err)
	}
	*r.buf = slices.Grow((*r.buf)[:0], n*int(r.stride()))[:n*int(r.stride())]
	raw := *r.buf
	if _, err := io.ReadFull(r.data, raw); err != nil {
		return nil, 0, r.truncated(err)
	}
	r.went(raw)
	r.row += n
	r.stored = row + n
	if r.row < r.rows() {
		return raw, n, nil
	}
	if r.plain() {
		if err := r.u.written(r.src.file, raw); err != nil {
			return nil, 0, err
		}
	}
	return raw, n, r.passRest()
}

// went takes down stored bytes that were read, while none is missing and a sum
// is asked for.
func (r *Reader) went(b []byte) {
	if r.u.sums.asks() && r.u.tiles == nil && r.sum.n == r.src.pos-int64(len(b))-r.u.offset {
		r.sum.Write(b)
	}
}

// pass moves over stored bytes that are not wanted.
func (r *Reader) pass(n int64) error {
	if r.u.tiles == nil && r.src.gz != nil && r.u.sums.asks() {
		_, err := io.CopyN(&r.sum, readerOnly{r.src}, n)
		return err
	}
	if r.u.tiles == nil || n == 0 {
		return r.src.skip(n)
	}
	_, err := io.CopyN(io.Discard, r.data, n)
	return err
}

// passRest moves over all rows that are left, and looks whether the file fits
// its checksums.
func (r *Reader) passRest() error {
	if r.verified {
		return nil
	}
	end := r.u.planes * r.u.height
	if r.u.tiles != nil {
		end = (r.u.planes-1)*r.u.height + r.u.trim.Y1
	}
	if err := r.pass(int64(end-r.stored) * r.stride()); err != nil {
		return r.truncated(err)
	}
	r.stored, r.verified = end, true
	return r.verify()
}

func (r *Reader) truncated(err error) error {
	if !isEnd(err) {
		return err
	}
	have := r.src.pos
	if info, err := r.src.file.Stat(); err == nil && r.src.gz == nil {
		have = info.Size()
	}
	return &TruncatedError{Have: have, Want: r.u.offset + padded(r.u.dataBytes)}
}
