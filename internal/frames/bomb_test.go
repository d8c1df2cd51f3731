package frames

import (
	"testing"
)

// A small file that claims a huge image is refused before memory is spent on
// it, as long as there is a limit; one that fits is not.
func TestFrameAboveTheMemory(t *testing.T) {
	rice := make([]byte, 4<<10) // zeros are differences of none: blocks of 4096 px in 4 bits
	tile := tiledFile(16, 5000, 5000, 5000, 5000, "RICE_1", false, [][]byte{rice}, "ZNAME2  = 'BLOCKSIZE'", "ZVAL2   = 4096")
	rows := tiledFile(16, 1<<20, 1, 1<<20, 1, "RICE_1", false, [][]byte{rice}, "ZNAME2  = 'BLOCKSIZE'", "ZVAL2   = 4096")
	zeros := zipped(fits(16, []int{5000, 5000}, make([]int16, 25_000_000), "BZERO   = 32768"))
	for _, c := range []struct {
		name   string
		body   []byte
		memory int64
		want   outcome
	}{
		{"x.fits.fz", tile, 100 << 20, unsupported},
		{"x.fits.gz", zeros, 100 << 20, unsupported},
		{"x.fits.gz", zeros, 300 << 20, readable},
		{"x.fits.fz", tile, 0, readable},
		{"x.fits.fz", rows, 30 << 20, readable},
		{"x.fits.fz", rows, 15 << 20, unsupported},
	} {
		dir := write(t, c.name, c.body)
		opt := DefaultScanOptions
		opt.Memory = c.memory
		var f *Frame
		took := allocated(func() {
			fs, err := Scan(t.Context(), []string{dir}, opt)
			if err != nil {
				t.Fatal(err)
			}
			f = fs[0]
		})
		if !c.want.matches(f.Err) {
			t.Errorf("%s with %d MiB: %v", c.name, c.memory>>20, f.Err)
		}
		if c.want == unsupported && took > 4<<20 {
			t.Errorf("%s with %d MiB: %d MiB were spent on refusing it", c.name, c.memory>>20, took>>20)
		}
	}
}
