package frames

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"fitsqa/internal/stats"
)

// TestTrim: overscan is cut off in whole and in strips, and what lies in the
// picture is what lay there before.
func TestTrim(t *testing.T) {
	const w, h = 12, 9
	px := make([]int16, w*h)
	for i := range px {
		px[i] = int16(i)
	}
	for _, bitpix := range []int{16, 32} {
		var stored any = px
		if bitpix == 32 {
			wide := make([]int32, len(px))
			for i, v := range px {
				wide[i] = int32(v) + 100000
			}
			stored = wide
		}
		f := scanBytes(t, "x.fits", fits(bitpix, []int{w, h}, stored, "TRIMSEC = '[ 3:10, 2: 8]'", "BIASSEC = '[11:12,1:9]'"))
		if f.Image.Width != 8 || f.Image.Height != 7 {
			t.Fatalf("%+v %+v", f.Image, f.Meta)
		}
		var im Image
		if err := f.Read(&im); err != nil {
			t.Fatal(err)
		}
		got := im.Float32(0, nil)
		for y := range 7 {
			for x := range 8 {
				want := float32((y+1)*w + x + 2)
				if bitpix == 32 {
					want += 100000
				}
				if got[y*8+x] != want {
					t.Fatalf("BITPIX %d: pixel %d,%d is %v, want %v", bitpix, x, y, got[y*8+x], want)
				}
			}
		}
		sameRows(t, f, got, 3)
	}
	// Where no card tells the picture, it is what a strip of overscan leaves.
	for section, want := range map[string][2]int{"[11:12,1:9]": {10, 9}, "[1:2,1:9]": {10, 9}, "[1:12,9:9]": {12, 8}, "[1:12,1:2]": {12, 7},
		"[11:12,1:8]": {12, 9}, "[5:6,1:9]": {12, 9}, "[3:12,1:9]": {12, 9}, "[11:14,1:9]": {12, 9}} {
		f := scanBytes(t, "x.fits", fits(16, []int{w, h}, px, "BIASSEC = '"+section+"'"))
		if f.Image.Width != want[0] || f.Image.Height != want[1] {
			t.Errorf("BIASSEC %s leaves %dx%d px, want %v", section, f.Image.Width, f.Image.Height, want)
		}
	}
	// A colour pattern moves along with the first pixel.
	f := scanBytes(t, "x.fits", fits(16, []int{w, h}, px, "TRIMSEC = '[2:9,2:9]'", "BAYERPAT= 'RGGB'"))
	if f.Meta.Bayer != "BGGR" {
		t.Errorf("pattern %s, want BGGR one row and column further", f.Meta.Bayer)
	}
	for _, s := range []string{"[17:528,1:520]", "[0:5,1:5]", "[1:5]", "3", "[a:b,c:d]"} {
		f := scanBytes(t, "x.fits", fits(16, []int{w, h}, px, "TRIMSEC = '"+s+"'"))
		if f.Err != nil || f.Image.Width != w || len(f.Findings) == 0 {
			t.Errorf("TRIMSEC %s: %+v %v %v", s, f.Image, f.Err, f.Findings)
		}
	}
}

// sameRows reads a frame by strips of n rows and compares with its pixels.
func sameRows(t *testing.T, f *Frame, want []float32, n int) {
	t.Helper()
	r, err := f.Open()
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	var strip Image
	var got []float32
	for {
		rows, err := r.Rows(&strip, n)
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if rows != strip.Height || strip.Width != f.Image.Width {
			t.Fatalf("%d rows in a strip of %d x %d", rows, strip.Width, strip.Height)
		}
		if r.WholeNumbers() && strip.U16 == nil {
			t.Error("promised whole numbers, came as float32")
		}
		got = append(got, strip.Float32(0, nil)...)
	}
	sameFloats(t, got, want)
}

// samePlanes reads a frame plane by plane and compares with its image.
func samePlanes(t *testing.T, f *Frame, im *Image) {
	t.Helper()
	var dst []float32
	for p := range im.Planes {
		var strips []float32
		var err error
		dst, err = f.ReadPlane(p, dst, func(first int, rows []float32, top float32) {
			if first*im.Width != len(strips) {
				t.Errorf("a strip from row %d after %d pixels", first, len(strips))
			}
			if high, _ := stats.TopOfRow(rows); high > top {
				t.Errorf("a strip from row %d holds %g, and is said to hold no more than %g", first, high, top)
			}
			strips = append(strips, rows...)
			clear(rows)
		})
		if err != nil {
			t.Fatal(err)
		}
		sameFloats(t, strips, im.Float32(p, nil))
		sameFloats(t, dst, make([]float32, im.Width*im.Height)) // as each left them
	}
}

// TestReadPlaneOfDamagedCube: a plane before the damage does not hide it.
func TestReadPlaneOfDamagedCube(t *testing.T) {
	const w, h = 200, 150
	px := make([]int16, 3*w*h)
	rng := rand.New(rand.NewPCG(9, 10))
	for i := range px {
		px[i] = int16(rng.Uint32())
	}
	whole := zipped(fits(16, []int{w, h, 3}, px))
	f := scanBytes(t, "x.fits.gz", whole)
	if err := os.WriteFile(f.Path, whole[:len(whole)*5/6], 0o600); err != nil {
		t.Fatal(err)
	}
	var im Image
	_, err := f.ReadPlane(1, nil, nil)
	if want := f.Read(&im); err == nil || want == nil || err.Error() != want.Error() {
		t.Errorf("%v, as an image %v", err, want)
	}
}

// TestRows: strips of any height, plain, gzipped and compressed, hold the same
// as the whole image; rows that are skipped are missing and no others.
func TestRows(t *testing.T) {
	const w, h = 50, 37
	rng := rand.New(rand.NewPCG(7, 8))
	px, fl := make([]int16, 3*w*h), make([]float32, 3*w*h)
	for i := range px {
		px[i] = int16(rng.Uint32())
		fl[i] = float32(rng.NormFloat64())
	}
	for name, file := range map[string][]byte{
		"unsigned": fits(16, []int{w, h}, px[:w*h], "BZERO   = 32768"),
		"signed":   fits(16, []int{w, h}, px[:w*h]),
		"float":    fits(-32, []int{w, h}, fl[:w*h]),
		"cube":     fits(16, []int{w, h, 3}, px, "BZERO   = 32768"),
		"trimmed":  fits(16, []int{w, h, 3}, px, "BZERO   = 32768", "TRIMSEC = '[5:40,3:30]'"),
		"gzip":     zipped(fits(16, []int{w, h, 3}, px, "TRIMSEC = '[5:40,3:30]'")),
	} {
		t.Run(name, func(t *testing.T) {
			f := scanBytes(t, "x.fits", file)
			var im Image
			if err := f.Read(&im); err != nil {
				t.Fatal(err)
			}
			var want []float32
			for p := range im.Planes {
				want = append(want, im.Float32(p, nil)...)
			}
			for _, n := range []int{1, 2, 7, 37, 1000} {
				sameRows(t, f, want, n)
			}
			samePlanes(t, f, &im)
			r, err := f.Open()
			if err != nil {
				t.Fatal(err)
			}
			defer r.Close()
			var strip Image
			row := 0
			for {
				n, err := r.Rows(&strip, 4)
				if err == io.EOF {
					break
				}
				if err != nil {
					t.Fatal(err)
				}
				sameFloats(t, strip.Float32(0, nil), want[row*im.Width:(row+n)*im.Width])
				r.Skip(5)
				row = min(row+n+5, im.Height*im.Planes)
			}
			if row != im.Height*im.Planes {
				t.Errorf("ended at row %d of %d", row, im.Height*im.Planes)
			}
		})
	}
}

// TestBuffersAreReused: a second frame of the same shape takes no new memory
// worth the name, and kinds of samples may take turns.
func TestBuffersAreReused(t *testing.T) {
	const w, h = 500, 400
	a := scanBytes(t, "x.fits", fits(16, []int{w, h}, slices.Repeat([]int16{1}, w*h), "BZERO   = 32768"))
	halves := make([]float32, w*h)
	for i := range halves {
		halves[i] = 0.5
	}
	b := scanBytes(t, "x.fits", fits(-32, []int{w, h}, halves))
	var im Image
	read := func(f *Frame) {
		if err := f.Read(&im); err != nil {
			t.Fatal(err)
		}
		if (im.U16 == nil) == (im.F32 == nil) {
			t.Fatal("not exactly one kind of samples")
		}
	}
	read(a)
	read(b)
	for range 3 {
		for _, f := range []*Frame{a, b} {
			// Header and strip buffer are taken anew each time: 0.3 MB of the 1.2 MB for pixels.
			if took := allocated(func() { read(f) }); took > 600<<10 {
				t.Errorf("%d kB for another frame", took>>10)
			}
		}
	}
}

func Example() {
	// A stack in bounded memory: open every frame once and take strips.
	frames, err := Scan(context.Background(), []string{"../../testdata/fits/field-a"}, DefaultScanOptions)
	if err != nil {
		fmt.Println(err)
		return
	}
	var strip Image
	for _, f := range frames {
		r, err := f.Open()
		if err != nil {
			fmt.Println(f.Name, err)
			continue
		}
		rows := 0
		for {
			n, err := r.Rows(&strip, 64)
			if err == io.EOF {
				break
			}
			if err != nil {
				fmt.Println(f.Name, err)
				break
			}
			rows += n
		}
		r.Close()
		fmt.Println(f.Name, f.Kind, rows)
	}
	// Output:
	// sub_0037.fits.gz light 512
	// sub_0092.fits.gz light 512
	// sub_0100.fits.gz light 512
}
