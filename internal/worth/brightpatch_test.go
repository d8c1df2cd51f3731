package worth

import "testing"

// A glow spreads over neighbouring cells. A single bright cell, or a pair of them, is a
// star's remains or chance.
func TestBrightestHasNeighbours(t *testing.T) {
	s := &Seen{frameWidth: 500, frameHeight: 500, block: 500, firstRow: []int{0}, cols: 5, rows: 5}
	for _, c := range []struct {
		name   string
		beside map[int]float64 // levels in units of the noise, beside cell 12 of 20
		want   int
	}{
		{"alone", nil, -1},
		{"one beside it", map[int]float64{13: 18}, -1},
		{"two beside it", map[int]float64{13: 18, 17: 10}, 12},
		{"two that hardly stand out", map[int]float64{13: 18, 17: 4}, -1}, // under a quarter of it
	} {
		mean, all := make([]float64, 25), make([]int, 25)
		for k := range all {
			all[k] = k
		}
		mean[12] = 20
		for k, v := range c.beside {
			mean[k] = v
		}
		if got := s.brightest(mean, all, 1); got != c.want {
			t.Errorf("%s: cell %d, want %d", c.name, got, c.want)
		}
	}
}
