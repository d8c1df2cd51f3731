package night

import "testing"

// Blocks reach both edges of a frame, follow each other without overlap, begin on
// a mosaic's even rows, and hold no more than is meant to be looked at, or three blocks.
func TestSeenRows(t *testing.T) {
	for _, size := range [][2]int{{1280, 960}, {6248, 4176}, {9576, 6388}, {641, 481}} {
		rows, block := seenRows(size[0], size[1])
		if len(rows) > max(3*seenBlock, seenPixels/size[0]) || len(rows)%block != 0 || block%2 != 0 {
			t.Errorf("%v: %d rows in blocks of %d", size, len(rows), block)
		}
		for i := 1; i < len(rows); i++ {
			if rows[i] <= rows[i-1] || i%block == 0 && rows[i]%2 != 0 {
				t.Fatalf("%v: row %d after %d", size, rows[i], rows[i-1])
			}
		}
		if rows[0] != 0 || rows[len(rows)-1] < size[1]-2 {
			t.Errorf("%v: rows %d to %d", size, rows[0], rows[len(rows)-1])
		}
	}
}
