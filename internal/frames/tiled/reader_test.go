package tiled

import (
	"bytes"
	"encoding/binary"
	"io"
	"testing"
)

// cut cuts a cube of bytes into uncompressed tiles, x fastest, and makes the
// table's data unit of them: the plain way round of what Reader does.
func cut(cube []byte, axes, tile []int) (unit []byte, rows int64) {
	var table, heap []byte
	for z0 := 0; z0 < axes[2]; z0 += tile[2] {
		for y0 := 0; y0 < axes[1]; y0 += tile[1] {
			for x0 := 0; x0 < axes[0]; x0 += tile[0] {
				start := len(heap)
				for z := z0; z < min(z0+tile[2], axes[2]); z++ {
					for y := y0; y < min(y0+tile[1], axes[1]); y++ {
						row := (z*axes[1] + y) * axes[0]
						heap = append(heap, cube[row+x0:row+min(x0+tile[0], axes[0])]...)
					}
				}
				table = binary.BigEndian.AppendUint32(table, uint32(len(heap)-start))
				table = binary.BigEndian.AppendUint32(table, uint32(start))
				rows++
			}
		}
	}
	return append(table, heap...), rows
}

// TestTileShapes: tiles of any shape, also through planes and smaller at the
// edges, give the image back row after row, plane after plane.
func TestTileShapes(t *testing.T) {
	axes := []int{5, 4, 3}
	cube := make([]byte, 60)
	for i := range cube {
		cube[i] = byte(i)
	}
	for _, tile := range [][]int{{5, 1, 1}, {5, 4, 3}, {2, 3, 2}, {2, 2, 1}, {1, 1, 3}, {5, 4, 1}, {5, 3, 2}, {1, 1, 1}, {3, 4, 2}} {
		unit, rows := cut(cube, axes, tile)
		table := &Table{
			Bitpix: 8, Axes: axes, Tile: append([]int(nil), tile...), Algorithm: "NOCOMPRESS",
			RowBytes: 8, Rows: rows, HeapOffset: 8 * rows, HeapBytes: int64(len(unit)) - 8*rows,
			Columns: []Column{{Name: "COMPRESSED_DATA", Type: 'P', Elem: 1}},
		}
		r, err := NewReader(table, bytes.NewReader(unit))
		if err != nil {
			t.Fatal(err)
		}
		got, err := io.ReadAll(r)
		if err != nil || !bytes.Equal(got, cube) {
			t.Errorf("tiles of %v: %v %v", tile, got, err)
		}
	}
}
