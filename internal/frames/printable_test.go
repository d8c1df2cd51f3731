package frames

import (
	"fmt"
	"testing"
)

func ExamplePrintable() {
	for _, s := range []string{"M 33, Nébuleuse α", "\x1b[31mred", "bad\xff", "two\nlines", "\u202egnp.fits"} {
		fmt.Println(Printable(s))
	}
	// Output:
	// M 33, Nébuleuse α
	// \x1b[31mred
	// bad\xff
	// two\nlines
	// \u202egnp.fits
}

func TestContentHash(t *testing.T) {
	px := ramp(100)
	hash := func(file []byte) [32]byte {
		t.Helper()
		h, err := scanBytes(t, "x.fits", file).ContentHash()
		if err != nil {
			t.Fatal(err)
		}
		return h
	}
	plain := hash(fits(16, []int{10, 10}, px, "BZERO   = 32768"))
	if hash(zipped(fits(16, []int{10, 10}, px, "BZERO   = 32768", "OBJECT  = 'M 33'"))) != plain {
		t.Error("gzip or another card changed the hash")
	}
	if hash(fits(16, []int{20, 5}, px, "BZERO   = 32768")) == plain {
		t.Error("another shape has the same hash")
	}
	if hash(fits(16, []int{10, 10}, px)) == plain {
		t.Error("another BZERO has the same hash")
	}
	px[99]++
	if hash(fits(16, []int{10, 10}, px, "BZERO   = 32768")) == plain {
		t.Error("another last sample has the same hash")
	}
	f := scanBytes(t, "x.fits", twoByTwo())
	f.Path += ".gone"
	if _, err := f.ContentHash(); err == nil {
		t.Error("no error without a file")
	}
}
