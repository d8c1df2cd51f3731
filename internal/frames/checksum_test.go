package frames

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// obviousSum is the definition of FITS 4.0 appendix J.1, word by word.
func obviousSum(b []byte) uint32 {
	b = append(slices.Clone(b), make([]byte, (4-len(b)%4)%4)...)
	var sum uint64
	for ; len(b) > 0; b = b[4:] {
		if sum += uint64(binary.BigEndian.Uint32(b)); sum>>32 != 0 {
			sum = sum&0xffffffff + 1
		}
	}
	return uint32(sum)
}

func TestOnesSum(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for range 300 {
		b := make([]byte, rng.IntN(300))
		for i := range b {
			b[i] = byte(rng.Uint32()) | 0xf0 // carries
		}
		var s onesSum
		for rest := b; len(rest) > 0; {
			n := 1 + rng.IntN(len(rest))
			s.Write(rest[:n])
			rest = rest[n:]
		}
		if got, want := s.folded(), obviousSum(b); got != want {
			t.Fatalf("%d bytes sum to %d, want %d", len(b), got, want)
		}
	}
}

// The DATASUM of real files that other programs wrote; those of the tables were
// written by CFITSIO.
func TestSumsOfRealFiles(t *testing.T) {
	for _, name := range []string{"m13.fits", "m13_rice.fits", "m13_gzip.fits", "m13real.fits", "m13real_rice.fits"} {
		f := &Frame{Path: formatsFolder + "/" + name}
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		sum, err := r.dataSum()
		if err != nil || !r.u.sums.hasData || sum != r.u.sums.data {
			t.Errorf("%s: sum %d, its DATASUM %d (there: %v), %v", name, sum, r.u.sums.data, r.u.sums.hasData, err)
		}
		r.Close()
	}
}

// withSums sets the DATASUM and CHECKSUM of the only unit of a file; all is
// "DATASUM", "CHECKSUM" or both.
func withSums(plain []byte, which string) []byte {
	end := bytes.Index(plain, fmt.Appendf(nil, "%-80s", "END"))
	head := slices.Clone(plain[:end])
	data := plain[(end/blockLen+1)*blockLen:]
	if strings.Contains(which, "DATASUM") {
		head = append(head, fmt.Appendf(nil, "%-80s", fmt.Sprintf("DATASUM = '%d'", obviousSum(data)))...)
	}
	if strings.Contains(which, "CHECKSUM") {
		head = append(head, fmt.Appendf(nil, "%-80s", "CHECKSUM= '0000000000000000'")...)
	}
	at := len(head) - 80 + 11
	head = pad(append(head, fmt.Appendf(nil, "%-80s", "END")...), ' ')
	whole := append(head, data...)
	if strings.Contains(which, "CHECKSUM") {
		copy(whole[at:], asciiSum(^obviousSum(whole)))
	}
	return whole
}

// refitted sets the CHECKSUM of a file's last unit, which begins at from, to
// what its bytes are now.
func refitted(file []byte, from int) []byte {
	whole := slices.Clone(file)
	at := from + bytes.Index(whole[from:], []byte("CHECKSUM= '")) + 11
	copy(whole[at:], strings.Repeat("0", 16))
	copy(whole[at:], asciiSum(^obviousSum(whole[from:])))
	return whole
}

// asciiSum is the coding of FITS 4.0 appendix J.2: the 16 characters add up to
// the value, and to nothing with the zeros that they replace.
func asciiSum(v uint32) []byte {
	var out [16]byte
	for i := range 4 {
		b := int(v >> (24 - 8*i) & 0xff)
		q := [4]int{b/4 + '0' + b%4, b/4 + '0', b/4 + '0', b/4 + '0'}
		for bad := true; bad; {
			bad = false
			for _, e := range []int{0x3a, 0x3b, 0x3c, 0x3d, 0x3e, 0x3f, 0x40, 0x5b, 0x5c, 0x5d, 0x5e, 0x5f, 0x60} {
				for j := 0; j < 4; j += 2 {
					if q[j] == e || q[j+1] == e {
						q[j]++
						q[j+1]--
						bad = true
					}
				}
			}
		}
		for j := range 4 {
			out[4*j+i] = byte(q[j])
		}
	}
	return append([]byte{out[15]}, out[:15]...)
}

// readings are all ways to read all pixels of a frame: what came, as text.
var readings = map[string]func(f *Frame) (string, error){
	"whole": func(f *Frame) (string, error) {
		var im Image
		err := f.Read(&im)
		return fmt.Sprint(im.U16, im.F32), err
	},
	"last plane": func(f *Frame) (string, error) {
		px, err := f.ReadPlane(max(1, f.Image.Planes)-1, nil, nil)
		return fmt.Sprint(px), err
	},
	"strips": func(f *Frame) (string, error) {
		r, err := f.Open()
		if err != nil {
			return "", err
		}
		defer r.Close()
		var im Image
		var all strings.Builder
		for {
			_, err := r.Rows(&im, 7)
			if errors.Is(err, io.EOF) {
				return all.String(), nil
			}
			if err != nil {
				return "", err
			}
			fmt.Fprint(&all, im.U16, im.F32)
		}
	},
	"from the middle on": func(f *Frame) (string, error) {
		r, err := f.Open()
		if err != nil {
			return "", err
		}
		defer r.Close()
		var im Image
		r.Skip(r.rows() / 2)
		_, err = r.Rows(&im, r.rows())
		return fmt.Sprint(im.U16, im.F32), err
	},
	"hash": func(f *Frame) (string, error) {
		h, err := f.ContentHash()
		return fmt.Sprint(h), err
	},
}

// One flipped bit anywhere in a file that carries a checksum of its pixels:
// every way to read it says so, or gives the pixels as they were.
func TestFlippedBitsAreNoticed(t *testing.T) {
	noise := func(n int) []int16 {
		rng := rand.New(rand.NewPCG(2, 2))
		px := make([]int16, n)
		for i := range px {
			px[i] = int16(rng.NormFloat64()*30 - 32000)
		}
		return px
	}
	plain := fits(16, []int{61, 40}, noise(61*40), "BZERO   = 32768")
	cube := fits(16, []int{31, 20, 3}, noise(31*20*3), "BZERO   = 32768")
	trimmed := fits(16, []int{64, 40}, noise(64*40), "BZERO   = 32768", "TRIMSEC = '[5:60,3:38]'")
	rice, err := os.ReadFile(formatsFolder + "/m13_rice.fits")
	if err != nil {
		t.Fatal(err)
	}
	rice = refitted(rice, blockLen)
	for _, c := range []struct {
		name  string
		file  string
		body  []byte
		from  int // flips before would break the header, which is no pixel
		tries int
	}{
		{"DATASUM", "x.fits", withSums(plain, "DATASUM"), blockLen, 60},
		{"CHECKSUM", "x.fits", withSums(plain, "CHECKSUM"), blockLen, 60},
		{"both", "x.fits", withSums(plain, "DATASUM CHECKSUM"), blockLen, 60},
		{"cube", "x.fits", withSums(cube, "DATASUM"), blockLen, 60},
		{"overscan", "x.fits", withSums(trimmed, "DATASUM"), blockLen, 60},
		{"tiles", "x.fz", rice, 2 * blockLen, 25},
		{"gzip", "x.fits.gz", zipped(plain), 0, 150},
		{"gzip of two members", "x.fits.gz", append(zipped(plain[:4000]), zipped(plain[4000:])...), 0, 100},
		{"gzip with DATASUM", "x.fits.gz", zipped(withSums(cube, "DATASUM")), 0, 60},
		{"gzip of tiles", "x.fits.gz", zipped(rice), 0, 25},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(write(t, c.file, c.body), c.file)
			want := map[string]string{}
			for how, read := range readings {
				if want[how], err = read(&Frame{Path: path}); err != nil {
					t.Fatalf("%s: undamaged: %v", how, err)
				}
			}
			rng := rand.New(rand.NewPCG(3, 3))
			if testing.Short() {
				c.tries /= 4
			}
			for range c.tries {
				bad := slices.Clone(c.body)
				at, bit := c.from+rng.IntN(len(bad)-c.from), rng.IntN(8)
				bad[at] ^= 1 << bit
				if err := os.WriteFile(path, bad, 0o644); err != nil {
					t.Fatal(err)
				}
				for how, read := range readings {
					if got, err := read(&Frame{Path: path}); err == nil && got != want[how] {
						t.Errorf("%s: bit %d of byte %d flipped: other pixels and no word", how, bit, at)
					}
				}
			}
		})
	}
}

// A header that was changed after its checksum was written has its pixels still.
func TestChangedHeaderIsTold(t *testing.T) {
	body := withSums(fits(16, []int{30, 30}, ramp(900), "EXPTIME = 60.0"), "DATASUM CHECKSUM")
	whole := body
	if f := scanBytes(t, "x.fits", body); f.Err != nil || warned(f, ChecksumStale) {
		t.Errorf("as written: %v %v", f.Err, f.Findings)
	}
	body[bytes.Index(body, []byte("60.0"))] = '9'
	if f := scanBytes(t, "x.fits", body); f.Err != nil || !warned(f, ChecksumStale) {
		t.Errorf("another exposure: %v %v", f.Err, f.Findings)
	}
	// A program that worked on the pixels and wrote so into the header is common;
	// pixels that alone differ are damaged.
	body[len(body)-2000] ^= 1
	if err := (&Frame{Path: filepath.Join(write(t, "x.fits", body), "x.fits")}).Read(new(Image)); err != nil {
		t.Errorf("header and pixels edited: %v", err)
	}
	whole[bytes.Index(whole, []byte("90.0"))] = '6'
	var damaged *damagedError
	if err := (&Frame{Path: filepath.Join(write(t, "x.fits", whole), "x.fits")}).Read(new(Image)); !errors.As(err, &damaged) {
		t.Errorf("pixels damaged: %v", err)
	}
}

// What follows the last member is no damage; a member without its end is.
func TestEndOfGzip(t *testing.T) {
	whole := zipped(fits(16, []int{100, 100}, ramp(10000), "BZERO   = 32768"))
	for _, c := range []struct {
		name string
		body []byte
		bad  bool
	}{
		{"zeros behind", append(slices.Clone(whole), make([]byte, 5)...), false},
		{"text behind", append(slices.Clone(whole), "some words behind it"...), false},
		{"checksum cut off", whole[:len(whole)-3], true},
		{"a member of nothing behind", append(slices.Clone(whole), zipped(nil)...), false},
		{"half a member behind", append(slices.Clone(whole), whole[:300]...), true},
	} {
		err := (&Frame{Path: filepath.Join(write(t, "x.fits.gz", c.body), "x.fits.gz")}).Read(new(Image))
		var damaged *damagedError
		if errors.As(err, &damaged) != c.bad || err != nil && !c.bad {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}
