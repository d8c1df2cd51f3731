package tiled

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"slices"

	"github.com/klauspost/compress/gzip"
)

type unpacker struct {
	t      *Table
	row    []byte   // of the table
	packed []byte   // as it lies in the heap
	ints   []uint32 // samples of a Rice tile, or quantised ones
	raw    []byte   // what a gzip tile unpacks to
	out    []byte   // big-endian samples of the image
	gz     *gzip.Reader
	bytes  bytes.Reader
}

// load reads what a column's descriptor points to; nil when there is no such
// column or the descriptor is null.
func (u *unpacker) load(src io.ReaderAt, name string) ([]byte, error) {
	c, ok := u.t.column(name)
	if !ok || c.Type != 'P' && c.Type != 'Q' {
		return nil, nil
	}
	offset, n, err := u.t.heapRange(u.row, c)
	if err != nil || n == 0 {
		return nil, err
	}
	u.packed = grown(u.packed, int(n))
	return u.packed, readAt(src, u.packed, offset)
}

// unpack turns a tile's bytes into n big-endian samples of size bytes. With a
// quantiser the tile holds integers of 32 bits (8 or 16 in a narrow Rice code).
func (u *unpacker) unpack(algorithm string, data []byte, n, size int, q *quantiser) ([]byte, error) {
	stored := size
	if q != nil {
		stored = 4
	}
	switch algorithm {
	case "RICE_1", "RICE_ONE":
		if err := u.rice(data, n); err != nil {
			return nil, err
		}
		u.out = grown(u.out, n*size)
		if q != nil {
			u.signExtend()
			q.write(u.out, u.ints, size)
		} else {
			writeInts(u.out, u.ints, size, u.t.BytePix)
		}
		return u.out, nil
	case "GZIP_1", "GZIP_2":
		raw, width, err := u.gunzip(data, n, stored)
		if err != nil {
			return nil, err
		}
		if algorithm == "GZIP_2" {
			u.out = grown(u.out, len(raw))
			unshuffle(u.out, raw, width)
			raw, u.raw, u.out = u.out, u.out, u.raw
		}
		if width > size && q == nil {
			narrow(raw, n, size, width)
			raw = raw[:n*size]
		}
		return u.samples(raw, n, size, q)
	default: // NOCOMPRESS
		if len(data) != n*stored {
			return nil, fmt.Errorf("%d bytes for %d samples", len(data), n)
		}
		return u.samples(data, n, size, q)
	}
}

// samples are big-endian samples, dequantised where there is a quantiser.
func (u *unpacker) samples(raw []byte, n, size int, q *quantiser) ([]byte, error) {
	if q == nil {
		return raw, nil
	}
	if cap(u.ints) < n {
		u.ints = make([]uint32, n)
	}
	u.ints = u.ints[:n]
	for i := range u.ints {
		u.ints[i] = binary.BigEndian.Uint32(raw[4*i:])
	}
	u.out = grown(u.out, n*size)
	q.write(u.out, u.ints, size)
	return u.out, nil
}

func (u *unpacker) rice(data []byte, n int) error {
	code := riceCodes[u.t.BytePix]
	if int64(n) > riceMost(len(data), u.t.BlockSize, code) {
		return errRiceShort
	}
	if cap(u.ints) < n {
		u.ints = make([]uint32, n)
	}
	u.ints = u.ints[:n]
	return unrice(u.ints, data, u.t.BlockSize, code)
}

// signExtend widens quantised samples of a narrow Rice code.
func (u *unpacker) signExtend() {
	switch u.t.BytePix {
	case 1:
		for i, v := range u.ints {
			u.ints[i] = uint32(int32(int8(v)))
		}
	case 2:
		for i, v := range u.ints {
			u.ints[i] = uint32(int32(int16(v)))
		}
	}
}

// gunzip unpacks n samples of stored bytes. Old writers put samples of 8 and
// 16 bits into 32 before packing them: that shows in the length. It never
// unpacks more than one or the other, and takes memory only as data come.
func (u *unpacker) gunzip(data []byte, n, stored int) (raw []byte, width int, err error) {
	u.bytes.Reset(data)
	if u.gz == nil {
		u.gz, err = gzip.NewReader(&u.bytes)
	} else {
		err = u.gz.Reset(&u.bytes)
	}
	if err != nil {
		return nil, 0, fmt.Errorf("gzip: %w", notEOF(err))
	}
	most := n * max(stored, 4)
	u.raw = u.raw[:0]
	for len(u.raw) < most {
		old := len(u.raw)
		u.raw = slices.Grow(u.raw, min(1<<20, most-old))[:min(most, old+1<<20)]
		got, err := io.ReadFull(u.gz, u.raw[old:])
		u.raw = u.raw[:old+got]
		if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
			break
		}
		if err != nil {
			return nil, 0, fmt.Errorf("gzip: %w", err)
		}
	}
	// Reading on to the end also checks the sum of the data.
	var more [1]byte
	if k, err := io.ReadFull(u.gz, more[:]); k != 0 {
		return nil, 0, errors.New("gzip: the tile holds more than its pixels")
	} else if !errors.Is(err, io.EOF) {
		return nil, 0, fmt.Errorf("gzip: %w", notEOF(err))
	}
	switch len(u.raw) {
	case n * stored:
		return u.raw, stored, nil
	case most:
		return u.raw, most / n, nil
	}
	return nil, 0, errGzipShort
}

// narrow keeps the low bytes of big-endian integers, in place.
func narrow(raw []byte, n, size, width int) {
	for i := range n {
		copy(raw[i*size:(i+1)*size], raw[(i+1)*width-size:(i+1)*width])
	}
}

var errGzipShort = errors.New("the tile ends before its pixels do")

// notEOF keeps an early end inside a tile from looking like the end of the file.
func notEOF(err error) error {
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return errGzipShort
	}
	return err
}

// unshuffle puts the bytes of each sample together again: GZIP_2 stores all
// first bytes, then all second ones, and so on (FITS 4.0 section 10.4.2).
func unshuffle(dst, src []byte, size int) {
	n := len(src) / size
	for k := range size {
		plane := src[k*n : (k+1)*n]
		for i, b := range plane {
			dst[i*size+k] = b
		}
	}
}

func (q *quantiser) write(dst []byte, ints []uint32, size int) {
	if size == 8 {
		q.float64s(dst, ints)
		return
	}
	q.float32s(dst, ints)
}

// writeInts writes decoded samples of from bytes big-endian in size bytes each.
func writeInts(dst []byte, ints []uint32, size, from int) {
	switch {
	case size == 1:
		for i, v := range ints {
			dst[i] = byte(v)
		}
	case size == 2:
		if from == 1 {
			for i, v := range ints {
				binary.BigEndian.PutUint16(dst[2*i:], uint16(uint8(v)))
			}
			return
		}
		for i, v := range ints {
			binary.BigEndian.PutUint16(dst[2*i:], uint16(v))
		}
	default:
		for i, v := range ints {
			switch from {
			case 1:
				v = uint32(uint8(v))
			case 2:
				v = uint32(int32(int16(v)))
			}
			binary.BigEndian.PutUint32(dst[4*i:], v)
		}
	}
}

// grown is a slice of n bytes, the old one when it is large enough.
func grown(b []byte, n int) []byte {
	if cap(b) < n {
		return make([]byte, n)
	}
	return b[:n]
}
