package tiled

import (
	"errors"
	"fmt"
	"io"
	"math"
)

// Reader delivers the samples of a compressed image in the order and coding
// that the uncompressed image has in its file.
type Reader struct {
	t      *Table
	src    io.ReaderAt // the data unit: table, then heap
	dither int
	size   int // bytes of a sample
	across int // tiles along the first axis
	next   int64
	band   []byte // unpacked rows; those not handed out yet start at used
	rows   []byte // buffer for bands of several tiles
	used   int
	tile   unpacker
	err    error
}

// NewReader checks the table and prepares to read the image out of src, which
// holds the table's data unit from offset 0.
func NewReader(t *Table, src io.ReaderAt) (*Reader, error) {
	if err := t.check(); err != nil {
		return nil, err
	}
	dither, err := t.ditherMode()
	if err != nil {
		return nil, err
	}
	if len(t.Axes) > 3 {
		return nil, &UnsupportedError{fmt.Sprintf("a tile-compressed array of %d axes", len(t.Axes))}
	}
	r := &Reader{t: t, src: src, dither: dither, size: max(t.Bitpix, -t.Bitpix) / 8}
	r.across = (t.Axes[0] + t.Tile[0] - 1) / t.Tile[0]
	r.tile.t = t
	return r, nil
}

// Read hands out big-endian samples, row after row.
func (r *Reader) Read(p []byte) (int, error) {
	if r.used == len(r.band) {
		if r.err == nil {
			r.err = r.unpackBand()
		}
		if r.err != nil {
			return 0, r.err
		}
	}
	n := copy(p, r.band[r.used:])
	r.used += n
	return n, nil
}

// box is where a tile lies in its band.
type box struct{ x, y, w, h, d int }

// bandTiles is what must be unpacked together to hand out whole rows in order: one
// row of tiles, or, where tiles reach through several planes, all tiles of
// those planes. The tiles of a band follow each other in the table.
func (r *Reader) bandTiles() (tiles []box, height, depth int) {
	axes, tile := r.t.Axes, r.t.Tile
	at := int(r.next / int64(r.across)) // rows of tiles before this one
	axis := func(i int) (n, size int) {
		if i < len(axes) {
			return axes[i], tile[i]
		}
		return 1, 1
	}
	ny, ty := axis(1)
	nz, tz := axis(2)
	down := (ny + ty - 1) / ty
	z0 := at / down * tz
	depth = min(tz, nz-z0)
	y0, y1 := at%down*ty, min((at%down+1)*ty, ny)
	if tz > 1 {
		y0, y1 = 0, ny
	}
	for y := y0; y < y1; y += ty {
		for x := 0; x < axes[0]; x += tile[0] {
			tiles = append(tiles, box{x: x, y: y - y0, w: min(tile[0], axes[0]-x), h: min(ty, ny-y), d: depth})
		}
	}
	return tiles, y1 - y0, depth
}

func (r *Reader) unpackBand() error {
	if r.next == r.t.Rows {
		return io.EOF
	}
	tiles, height, depth := r.bandTiles()
	r.band, r.used = r.band[:0], 0
	stride := r.t.Axes[0] * r.size
	for i, b := range tiles {
		px, err := r.unpackTile(b.w * b.h * b.d)
		if err != nil {
			r.band = r.band[:0]
			return fmt.Errorf("tile %d: %w", r.next+1, err)
		}
		r.next++
		if len(tiles) == 1 {
			r.band = px // one tile is the band
			break
		}
		if i == 0 {
			r.band = grown(r.rows, height*depth*stride)
			r.rows = r.band
		}
		for n := range b.d * b.h { // rows of the tile
			row := n/b.h*height + b.y + n%b.h
			copy(r.band[row*stride+b.x*r.size:], px[n*b.w*r.size:(n+1)*b.w*r.size])
		}
	}
	return nil
}

// unpackTile reads one table row and unpacks its tile to n samples.
func (r *Reader) unpackTile(n int) ([]byte, error) {
	u := &r.tile
	u.row = grown(u.row, r.t.RowBytes)
	if err := readAt(r.src, u.row, r.next*int64(r.t.RowBytes)); err != nil {
		return nil, err
	}
	if data, err := u.load(r.src, "COMPRESSED_DATA"); err != nil {
		return nil, err
	} else if data != nil {
		q, err := r.quantiser()
		if err != nil {
			return nil, err
		}
		return u.unpack(r.t.Algorithm, data, n, r.size, q)
	}
	// A null descriptor: the tile could not be quantised, or did not shrink.
	if data, err := u.load(r.src, "GZIP_COMPRESSED_DATA"); err != nil {
		return nil, err
	} else if data != nil {
		return u.unpack("GZIP_1", data, n, r.size, nil)
	}
	if data, err := u.load(r.src, "UNCOMPRESSED_DATA"); err != nil {
		return nil, err
	} else if data != nil {
		return u.unpack("NOCOMPRESS", data, n, r.size, nil)
	}
	return nil, errors.New("no data")
}

// quantiser is the tile's way back to floating point, nil for integers.
func (r *Reader) quantiser() (*quantiser, error) {
	if !r.t.Quantised || r.t.Bitpix > 0 {
		return nil, nil
	}
	row := r.tile.row
	q := &quantiser{scale: r.t.number(row, "ZSCALE", r.t.Scale), zero: r.t.number(row, "ZZERO", r.t.Zero), dither: r.dither, blank: nullPixel}
	if r.t.lacks("ZSCALE", r.t.Scale) || r.t.lacks("ZZERO", r.t.Zero) {
		return nil, errors.New("no ZSCALE or ZZERO")
	}
	blank := math.NaN()
	if r.t.HasBlank {
		blank = float64(r.t.Blank)
	}
	if b := r.t.number(row, "ZBLANK", blank); b >= math.MinInt32 && b <= math.MaxInt32 {
		q.blank = int32(b)
	}
	q.startDither(r.next+1, r.t.Dither0)
	return q, nil
}
