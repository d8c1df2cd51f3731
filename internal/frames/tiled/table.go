package tiled

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
)

// Table is a compressed image as its header describes it: the shape and coding
// of the image and the binary table that holds the tiles.
type Table struct {
	Bitpix    int    // ZBITPIX: of the image's samples
	Axes      []int  // ZNAXISn, px
	Tile      []int  // ZTILEn, px; as many as Axes
	Algorithm string // ZCMPTYPE

	BlockSize int // RICE_1: samples in a block
	BytePix   int // RICE_1: bytes of a sample in the code

	Quantised bool   // floating-point samples were turned into integers
	Dither    string // ZQUANTIZ: NO_DITHER, SUBTRACTIVE_DITHER_1, SUBTRACTIVE_DITHER_2; "" counts as NO_DITHER
	Dither0   int    // ZDITHER0, from 1

	// Values for all tiles where the table has no such column; NaN and false
	// where there is none at all.
	Scale, Zero float64
	Blank       int64
	HasBlank    bool

	RowBytes   int   // NAXIS1
	Rows       int64 // NAXIS2
	HeapOffset int64 // THEAP, from the start of the data unit
	HeapBytes  int64 // PCOUNT less any gap before the heap
	Columns    []Column
}

// Column is one column of the table that matters here.
type Column struct {
	Name   string // TTYPEn, upper case
	Offset int    // of its field in a row, bytes
	Type   byte   // TFORMn's letter: P or Q for descriptors, else of a number
	Elem   int    // bytes of an element that a descriptor counts
}

// UnsupportedError names a compression that is not read.
type UnsupportedError struct{ Feature string }

func (e *UnsupportedError) Error() string { return e.Feature }

// maxTilePixels bounds one tile, in memory while it is unpacked.
const maxTilePixels = 1 << 28

// check refuses tables whose numbers cannot be true, before anything is read.
func (t *Table) check() error {
	switch t.Algorithm {
	case "RICE_1", "RICE_ONE":
		if _, ok := riceCodes[t.BytePix]; !ok {
			return fmt.Errorf("RICE_1 with BYTEPIX %d", t.BytePix)
		}
		if t.BlockSize < 1 || t.BlockSize > 4096 {
			return fmt.Errorf("RICE_1 with BLOCKSIZE %d", t.BlockSize)
		}
		if t.Bitpix == 64 || t.Bitpix < 0 && !t.Quantised {
			return fmt.Errorf("RICE_1 of samples with BITPIX %d", t.Bitpix)
		}
	case "GZIP_1", "GZIP_2", "NOCOMPRESS":
	case "HCOMPRESS_1":
		return &UnsupportedError{"tile compression HCOMPRESS_1 (H-compress)"}
	case "PLIO_1":
		return &UnsupportedError{"tile compression PLIO_1"}
	default:
		return &UnsupportedError{fmt.Sprintf("tile compression %q", t.Algorithm)}
	}
	if len(t.Axes) < 1 || len(t.Axes) != len(t.Tile) {
		return errors.New("the tiles have another number of axes than the image")
	}
	pixels, tiles := int64(1), int64(1)
	for i, n := range t.Axes {
		if t.Tile[i] < 1 || n < 1 {
			return fmt.Errorf("axis %d of %d pixels in tiles of %d", i+1, n, t.Tile[i])
		}
		t.Tile[i] = min(t.Tile[i], n)
		pixels *= int64(t.Tile[i])
		tiles *= int64((n + t.Tile[i] - 1) / t.Tile[i])
		if pixels > maxTilePixels || tiles > 1<<40 {
			return &UnsupportedError{fmt.Sprintf("tiles of %v pixels", t.Tile)}
		}
	}
	if t.Rows != tiles {
		return fmt.Errorf("%d table rows for %d tiles", t.Rows, tiles)
	}
	return t.checkColumns()
}

// WorkBytes is the most memory that unpacking takes beside the samples that are
// handed out: integers and samples of one tile, and the rows of tiles that lie
// side by side.
func (t *Table) WorkBytes() int64 {
	size := int64(max(t.Bitpix, -t.Bitpix) / 8)
	tile, band := int64(1), size
	for i, n := range t.Axes {
		high := int64(min(t.Tile[i], n))
		tile *= high
		if i == 0 {
			high = int64(n)
		}
		band *= high
	}
	return tile*(4+2*size) + band
}

func (t *Table) checkColumns() error {
	data := false
	for _, c := range t.Columns {
		width := map[byte]int{'P': 8, 'Q': 16, 'D': 8, 'E': 4, 'J': 4, 'K': 8, 'I': 2, 'B': 1}[c.Type]
		if width == 0 {
			return fmt.Errorf("column %s of type %q", c.Name, c.Type)
		}
		if c.Offset < 0 || c.Offset > t.RowBytes-width {
			return fmt.Errorf("column %s lies outside its row of %d bytes", c.Name, t.RowBytes)
		}
		data = data || c.Name == "COMPRESSED_DATA" && (c.Type == 'P' || c.Type == 'Q')
	}
	if !data {
		return errors.New("a compressed image without a column COMPRESSED_DATA")
	}
	return nil
}

func (t *Table) column(name string) (Column, bool) {
	for _, c := range t.Columns {
		if c.Name == name {
			return c, true
		}
	}
	return Column{}, false
}

// ditherMode is 0, 1 or 2 for the way in which samples were quantised.
func (t *Table) ditherMode() (int, error) {
	switch t.Dither {
	case "", "NO_DITHER", "NONE":
		return 0, nil
	case "SUBTRACTIVE_DITHER_1":
		return 1, nil
	case "SUBTRACTIVE_DITHER_2":
		return 2, nil
	}
	return 0, &UnsupportedError{fmt.Sprintf("quantisation %q", t.Dither)}
}

// heapRange reads a descriptor (count and offset, FITS 4.0 section 7.3.5) and checks
// it against the heap.
func (t *Table) heapRange(row []byte, c Column) (offset, bytes int64, err error) {
	f := row[c.Offset:]
	if c.Type == 'Q' {
		bytes, offset = int64(binary.BigEndian.Uint64(f)), int64(binary.BigEndian.Uint64(f[8:]))
	} else {
		bytes, offset = int64(int32(binary.BigEndian.Uint32(f))), int64(int32(binary.BigEndian.Uint32(f[4:])))
	}
	if bytes < 0 || bytes > t.HeapBytes {
		return 0, 0, fmt.Errorf("tile data of %d elements in a heap of %d bytes", bytes, t.HeapBytes)
	}
	bytes *= int64(max(1, c.Elem))
	if offset < 0 || offset > t.HeapBytes || bytes > t.HeapBytes-offset {
		return 0, 0, fmt.Errorf("tile data of %d bytes at %d lie outside the heap of %d bytes", bytes, offset, t.HeapBytes)
	}
	return t.HeapOffset + offset, bytes, nil
}

// number reads a numeric field, or the table's constant where the column is
// missing.
func (t *Table) number(row []byte, name string, constant float64) float64 {
	c, ok := t.column(name)
	if !ok {
		return constant
	}
	f := row[c.Offset:]
	switch c.Type {
	case 'D':
		return math.Float64frombits(binary.BigEndian.Uint64(f))
	case 'E':
		return float64(math.Float32frombits(binary.BigEndian.Uint32(f)))
	case 'J':
		return float64(int32(binary.BigEndian.Uint32(f)))
	case 'K':
		return float64(int64(binary.BigEndian.Uint64(f)))
	case 'I':
		return float64(int16(binary.BigEndian.Uint16(f)))
	case 'B':
		return float64(f[0])
	}
	return constant
}

// lacks tells that there is neither a column nor a constant of a name. A column
// that holds NaN for a tile is no lack: that tile alone has no values.
func (t *Table) lacks(name string, constant float64) bool {
	_, ok := t.column(name)
	return !ok && math.IsNaN(constant)
}

// readAt fills p from the table's data unit.
func readAt(src io.ReaderAt, p []byte, offset int64) error {
	n, err := src.ReadAt(p, offset)
	if n == len(p) {
		return nil
	}
	if err == nil || errors.Is(err, io.EOF) {
		return io.ErrUnexpectedEOF
	}
	return err
}
