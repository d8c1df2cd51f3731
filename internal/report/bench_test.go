package report

import (
	"io"
	"testing"
)

// The page of 300 subs, pictures included.
func BenchmarkHTML300Subs(b *testing.B) {
	r := fakeNight(144)
	for b.Loop() {
		if err := HTML(io.Discard, r); err != nil {
			b.Fatal(err)
		}
	}
}
