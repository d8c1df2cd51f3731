package catalogue

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"fmt"
	"iter"
	"math"
	"slices"
)

// The file: mark; where each cell begins and the last one ends, uint32 counted
// from the first; then the stars, cell by cell, brightest first. A star is two
// uint16, little-endian: its place in the cell in right ascension and declination, in
// 65536ths of the cell (0.06 arcsec); and a uvarint: by how many hundredths of a
// magnitude it is fainter than the star before it, the first than brightest.
const (
	mark      = "fitsqa stars 1\n"
	brightest = -2.0
	steps     = 1 << 16
	hundredth = 0.01
)

// Pack encodes stars as this package's file.
func Pack(list []Star) ([]byte, error) {
	byCell := make([][]Star, cells)
	for i, s := range list {
		if !(s.RA >= 0 && s.RA < 360 && math.Abs(s.Dec) <= 90 && s.Mag >= brightest && s.Mag < 30) {
			return nil, fmt.Errorf("star %d is none: %+v", i, s)
		}
		cell, _, _ := cellOf(s.RA, s.Dec)
		byCell[cell] = append(byCell[cell], s)
	}
	out := append([]byte(nil), mark...)
	var body []byte
	for _, stars := range byCell {
		out = binary.LittleEndian.AppendUint32(out, uint32(len(body)))
		body = appendCell(body, stars)
	}
	out = binary.LittleEndian.AppendUint32(out, uint32(len(body)))
	return append(out, body...), nil
}

func appendCell(body []byte, list []Star) []byte {
	slices.SortStableFunc(list, func(a, b Star) int { return cmp.Compare(a.Mag, b.Mag) })
	before := uint64(0)
	for _, s := range list {
		_, u, v := cellOf(s.RA, s.Dec)
		body = binary.LittleEndian.AppendUint16(body, step(u))
		body = binary.LittleEndian.AppendUint16(body, step(v))
		mag := uint64(math.Round((s.Mag - brightest) / hundredth))
		body = binary.AppendUvarint(body, mag-before)
		before = mag
	}
	return body
}

func step(fraction float64) uint16 {
	return uint16(min(steps-1, max(0, math.Floor(fraction*steps))))
}

// stars gives a cell's stars, brightest first. A file that is no catalogue has none.
func stars(file []byte, cell int) iter.Seq[Star] {
	return func(yield func(Star) bool) {
		data := cellData(file, cell)
		band := bandOf(cell)
		width := 360 / float64(columns(band))
		ra0, dec0 := float64(cell-bandStart[band])*width, float64(band)-90
		var mag uint64
		for len(data) > 4 {
			u, v := binary.LittleEndian.Uint16(data), binary.LittleEndian.Uint16(data[2:])
			fainter, n := binary.Uvarint(data[4:])
			if n <= 0 {
				return
			}
			data = data[4+n:]
			mag += fainter
			s := Star{RA: ra0 + (float64(u)+0.5)/steps*width, Dec: dec0 + (float64(v)+0.5)/steps, Mag: brightest + float64(mag)*hundredth}
			if !yield(s) {
				return
			}
		}
	}
}

// cellData is the bytes of a cell's stars; none in a file that is no catalogue.
func cellData(file []byte, cell int) []byte {
	table := len(mark) + 4*cell
	first := len(mark) + 4*(cells+1)
	if !bytes.HasPrefix(file, []byte(mark)) || len(file) < first {
		return nil
	}
	from := first + int(binary.LittleEndian.Uint32(file[table:]))
	to := first + int(binary.LittleEndian.Uint32(file[table+4:]))
	if from > to || to > len(file) {
		return nil
	}
	return file[from:to]
}
