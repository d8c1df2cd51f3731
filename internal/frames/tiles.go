package frames

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strconv"
	"strings"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames/tiled"
)

// tiledImage reads the keywords of a tile-compressed image (FITS 4.0 section
// 10.1 and 10.2) out of its table's header.
func (h *header) tiledImage(u hdu) (*unit, []fact.Fact, error) {
	if len(u.axes) != 2 || u.bitpix != 8 {
		return nil, nil, &FormatError{"a compressed image in a table that has not two axes of bytes"}
	}
	t := &tiled.Table{RowBytes: int(min(u.axes[0], math.MaxInt32)), Rows: u.axes[1], Scale: math.NaN(), Zero: math.NaN()}
	axes, err := h.tileShape(t)
	if err != nil {
		return nil, nil, err
	}
	w, ht, planes, err := imageShape(axes)
	if err != nil {
		return nil, nil, err
	}
	if err := h.tileCoding(t); err != nil {
		return nil, nil, err
	}
	if err := h.tileColumns(t, u); err != nil {
		return nil, nil, err
	}
	found := &unit{width: w, height: ht, planes: planes, bitpix: t.Bitpix, dataBytes: u.dataBytes, header: h, tiles: t}
	var warnings []fact.Fact
	found.scaling, warnings = h.scaling(t.Bitpix)
	return found, warnings, nil
}

// tileShape reads ZBITPIX, ZNAXISn and ZTILEn; by default a tile is a row.
func (h *header) tileShape(t *tiled.Table) (axes []int64, err error) {
	bitpix, err := h.integer("ZBITPIX", 0)
	if err != nil {
		return nil, err
	}
	switch bitpix {
	case 8, 16, 32, 64, -32, -64:
		t.Bitpix = int(bitpix)
	default:
		return nil, &FormatError{fmt.Sprintf("ZBITPIX is %d", bitpix)}
	}
	n, err := h.integer("ZNAXIS", -1)
	if err != nil {
		return nil, err
	}
	if n < 0 || n > maxAxes {
		return nil, &FormatError{fmt.Sprintf("ZNAXIS is missing or out of range (%d)", n)}
	}
	for i := int64(1); i <= n; i++ {
		length, err := h.integer("ZNAXIS"+strconv.FormatInt(i, 10), -1)
		if err != nil {
			return nil, err
		}
		standard := int64(1)
		if i == 1 {
			standard = length
		}
		tile, err := h.integer("ZTILE"+strconv.FormatInt(i, 10), standard)
		if err != nil {
			return nil, err
		}
		if length < 1 || length > maxAxis || tile < 1 {
			return nil, &FormatError{fmt.Sprintf("compressed axis %d of %d pixels in tiles of %d", i, length, tile)}
		}
		axes = append(axes, length)
		if i <= 3 || length > 1 {
			t.Axes = append(t.Axes, int(length))
			t.Tile = append(t.Tile, int(min(tile, length)))
		}
	}
	return axes, nil
}

func (h *header) tileCoding(t *tiled.Table) error {
	c, _ := h.structural("ZCMPTYPE")
	t.Algorithm = strings.ToUpper(c.value)
	t.BlockSize, t.BytePix = 32, 4 // FITS 4.0 table 37, where the keywords are absent
	for i := 1; i <= 9; i++ {
		name, ok := h.structural("ZNAME" + strconv.Itoa(i))
		if !ok {
			break
		}
		v, err := h.integer("ZVAL"+strconv.Itoa(i), 0)
		switch strings.ToUpper(name.value) {
		case "BLOCKSIZE":
			t.BlockSize = int(min(max(v, 0), math.MaxInt32))
		case "BYTEPIX":
			t.BytePix = int(min(max(v, 0), math.MaxInt32))
		default:
			err = nil
		}
		if err != nil {
			return err
		}
	}
	q, _ := h.structural("ZQUANTIZ")
	t.Dither = strings.ToUpper(q.value)
	seed, err := h.integer("ZDITHER0", 1)
	if err != nil {
		return err
	}
	const randoms = 10000 // the length of the standard's table: a seed beyond it begins anew
	t.Dither0 = int(((seed-1)%randoms+randoms)%randoms) + 1
	for key, to := range map[string]*float64{"ZSCALE": &t.Scale, "ZZERO": &t.Zero} {
		if *to, err = h.number(key, math.NaN()); err != nil {
			return err
		}
	}
	if _, t.HasBlank = h.structural("ZBLANK"); t.HasBlank {
		if t.Blank, err = h.integer("ZBLANK", 0); err != nil {
			return err
		}
	}
	return nil
}

// tileColumns finds the columns that hold tiles and their scales.
func (h *header) tileColumns(t *tiled.Table, u hdu) error {
	fields, err := h.integer("TFIELDS", 0)
	if err != nil {
		return err
	}
	offset := int64(0)
	for i := int64(1); i <= min(fields, maxAxes); i++ {
		n := strconv.FormatInt(i, 10)
		form, ok := h.structural("TFORM" + n)
		if !ok {
			return &FormatError{"the compressed image's table has no TFORM" + n}
		}
		col, width, err := tileColumn(form.value)
		if err != nil {
			return err
		}
		name, _ := h.structural("TTYPE" + n)
		col.Name, col.Offset = strings.ToUpper(name.value), int(offset)
		switch col.Name {
		case "COMPRESSED_DATA", "GZIP_COMPRESSED_DATA", "UNCOMPRESSED_DATA", "ZSCALE", "ZZERO", "ZBLANK":
			t.Columns = append(t.Columns, col)
		}
		t.Quantised = t.Quantised || col.Name == "ZSCALE" && t.Bitpix < 0
		if offset += width; offset > u.axes[0] {
			return &FormatError{fmt.Sprintf("the compressed image's columns need more than the %d bytes of a row", u.axes[0])}
		}
	}
	t.Quantised = t.Quantised || t.Bitpix < 0 && !math.IsNaN(t.Scale)
	table := u.axes[0] * u.axes[1]
	if t.HeapOffset, err = h.integer("THEAP", table); err != nil {
		return err
	}
	if t.HeapOffset < table || t.HeapOffset > u.dataBytes {
		return &FormatError{fmt.Sprintf("THEAP %d lies outside the data unit", t.HeapOffset)}
	}
	t.HeapBytes = u.dataBytes - t.HeapOffset
	return nil
}

// elementBytes are the sizes of table elements (FITS 4.0 table 18).
var elementBytes = map[byte]int64{'L': 1, 'X': 1, 'B': 1, 'I': 2, 'J': 4, 'K': 8, 'A': 1, 'E': 4, 'D': 8, 'C': 8, 'M': 16, 'P': 8, 'Q': 16}

// tileColumn takes a TFORM apart: a repeat count, a letter, and for a
// descriptor the letter of what it counts.
func tileColumn(form string) (c tiled.Column, width int64, err error) {
	form = strings.ToUpper(strings.TrimSpace(form))
	n := 0
	for n < len(form) && isDigit(form[n]) {
		n++
	}
	repeat := int64(1)
	if n > 0 {
		if repeat, err = strconv.ParseInt(form[:n], 10, 32); err != nil {
			return c, 0, &FormatError{"TFORM " + Printable(form)}
		}
	}
	if n == len(form) || elementBytes[form[n]] == 0 {
		return c, 0, &FormatError{"TFORM " + Printable(form)}
	}
	c.Type = form[n]
	width = repeat * elementBytes[c.Type]
	if c.Type == 'X' {
		width = (repeat + 7) / 8
	}
	if c.Type == 'P' || c.Type == 'Q' {
		if n+1 < len(form) {
			c.Elem = int(elementBytes[form[n+1]])
		}
		if c.Elem == 0 || repeat > 1 {
			return c, 0, &FormatError{"TFORM " + Printable(form)}
		}
	}
	return c, width, nil
}

// openTiles is the image's samples as they were before compression.
func (r *Reader) openTiles() (io.Reader, error) {
	u, s := r.u, r.src
	var data io.ReaderAt = io.NewSectionReader(s.file, u.offset, u.dataBytes)
	if s.gz != nil {
		// Tiles lie anywhere in the heap: the unit must be in memory. It is
		// read as it comes, so that only what is there takes room.
		var b bytes.Buffer
		n, err := io.Copy(&b, io.LimitReader(readerOnly{s}, u.dataBytes))
		if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) {
			return nil, err
		}
		if n < u.dataBytes {
			return nil, &TruncatedError{Have: u.offset + n, Want: u.offset + padded(u.dataBytes)}
		}
		r.sum.Write(b.Bytes())
		data = bytes.NewReader(b.Bytes())
	}
	t, err := tiled.NewReader(u.tiles, data)
	if err != nil {
		return nil, tileError(err)
	}
	return tileReader{t}, nil
}

// tileReader gives the errors of damaged tiles the types of this package.
type tileReader struct{ r *tiled.Reader }

func (t tileReader) Read(p []byte) (int, error) {
	n, err := t.r.Read(p)
	return n, tileError(err)
}

func tileError(err error) error {
	var unsupported *tiled.UnsupportedError
	switch {
	case err == nil || errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) || is[*os.PathError](err):
		return err
	case errors.As(err, &unsupported):
		return &UnsupportedError{unsupported.Feature}
	}
	return &FormatError{err.Error()}
}
