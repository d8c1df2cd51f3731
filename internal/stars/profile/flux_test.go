package profile

import (
	"testing"

	"fitsqa/internal/stars"
)

// Where too few stars stand alone, what stands in the light of a brighter star tells no flux:
// five such beside eight that have fainter stars at their side. It does where hardly any
// star stands otherwise.
func TestOutshoneTellNoFlux(t *testing.T) {
	list := []stars.Star{{X: 100, Y: 100, Flux: 5e6, Saturated: true}}
	var fits []fitted
	add := func(x, y, flux float64) {
		fits = append(fits, fitted{star: len(list)})
		list = append(list, stars.Star{X: x, Y: y, Flux: flux})
	}
	for k := range 5 {
		add(100+float64(4*k-8), 110, 6e4)
	}
	for k := range 8 {
		add(float64(40*k), 300, 5e3)
		list = append(list, stars.Star{X: float64(40*k) + 6, Y: 300, Flux: 500})
	}
	if got := lonely(list, fits, 14); len(got) != 8 || list[got[0].star].Y != 300 {
		t.Errorf("%d of the 8 that nothing outshines", len(got))
	}
	if got := lonely(list, fits[:fewestAbove+4], 14); len(got) != len(fits[:fewestAbove+4]) {
		t.Errorf("%d of all %d, where 3 are not outshone", len(got), fewestAbove+4)
	}
}
