package frames

import (
	"errors"
	"testing"
)

// TestRoomReserved: of a file whose size is right but whose end was never written the
// bytes that arrived are told; borders and black that a program wrote are none of it.
func TestRoomReserved(t *testing.T) {
	const w, h = 100, 200
	sky, light := frame16(500, 20), make([]float32, w*h)
	whole := make([]int16, w*h)
	for i := range whole {
		whole[i], light[i] = sky[i%len(sky)], float32(i%97)+1
	}
	border, limb := append([]float32(nil), light...), make([]float32, w*h)
	clear(border[w*(h-30):])
	for y := range h { // a disk on black, that ends with one pixel
		for x := range w {
			if dx, dy := x-50, y-60; dx*dx+dy*dy <= 50*50 {
				limb[y*w+x] = 1000
			}
		}
	}
	black := make([]float32, w*h)
	for _, c := range []struct {
		name string
		file []byte
		cut  int // bytes that arrived; 0: nothing is changed
		want bool
	}{
		{"whole", fits(16, []int{w, h}, whole, unsigned), 0, false},
		{"half", fits(16, []int{w, h}, whole, unsigned), 20480, true},
		{"nearly all", fits(16, []int{w, h}, whole, unsigned), 40960, true},
		{"the header alone", fits(16, []int{w, h}, whole, unsigned), 2880, true},
		{"to the end of a row", fits(16, []int{w, h}, whole, unsigned), 2880 + 200*50, true},
		{"half of floats", fits(-32, []int{w, h}, light), 40960, true},
		{"a border", fits(-32, []int{w, h}, border), 0, false},
		{"a disk", fits(-32, []int{w, h}, limb), 0, false},
		{"black", fits(-32, []int{w, h}, black), 0, false},
	} {
		if c.cut > 0 {
			clear(c.file[c.cut:])
		}
		var cut *TruncatedError
		err := scanBytes(t, "x.fits", c.file).Read(new(Image))
		if errors.As(err, &cut) != c.want || c.want && (!cut.Reserved || cut.Have != int64(c.cut)) || !c.want && err != nil {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}
