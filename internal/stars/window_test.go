package stars

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stats"
)

// TestSearchAgainstFilterEverywhere holds the search by windows to the filter
// evaluated at every pixel: what the filter shows at 5 sigma is found, but for
// the few at the threshold and the few whose neighbours are closer than a FWHM.
func TestSearchAgainstFilterEverywhere(t *testing.T) {
	const side = 500
	for _, fwhm := range []float64{1.3, 2.2, 3.1, 3.6, 4.5, 6, 7.5, 11} {
		s := newSim(uint64(100*fwhm), side, side, 300)
		q := psf{fwhm: fwhm, beta: 3.5}
		rng := rand.New(rand.NewPCG(3, uint64(100*fwhm)))
		for range int(min(700, 20000/(fwhm*fwhm))) {
			s.star(rng.Float64()*side, rng.Float64()*side, s.signal(4+4*rng.ExpFloat64(), 300, q), q)
		}
		p := &plane{w: side, h: side, r: s.frame(), green: -1, saturation: math.Inf(1)}
		p.mask(nil)
		cell := stats.MeshCell(side, side)
		p.mesh.Fit(p.r, side, side, cell, 1, nil)
		p.subtract()
		k := newKernel(roundSeeing(math.Sqrt(fwhm*fwhm + 0.46))) // the pixel adds 1/12 px² to the variance

		found := map[[2]int]bool{}
		for _, c := range p.search(k, 5) {
			found[[2]int{c.x, c.y}] = true
		}
		all, missed, plain := filterEverywhere(p, k, 5), 0, 0
		for at, significance := range all {
			if !found[at] {
				missed++
				if significance > 6.5 {
					plain++
				}
			}
			delete(found, at)
		}
		if missed > len(all)*3/100 || plain > len(all)/50 {
			t.Errorf("FWHM %.1f: of %d maxima %d are missed, %d of them above 6.5 sigma", fwhm, len(all), missed, plain)
		}
		if len(found) > 0 {
			t.Errorf("FWHM %.1f: %d places are no maxima of the filter", fwhm, len(found))
		}
	}
}

// filterEverywhere gives the significance of every local maximum of the filter.
func filterEverywhere(p *plane, k *kernel, threshold float64) map[[2]int]float64 {
	limits := p.noiseBlocks(1, 1)
	cols := (p.w >> blockShift) + 1
	response := make([]float32, p.w*p.h)
	for i := range response {
		response[i] = k.responseAt(p, i%p.w, i/p.w)
	}
	out := map[[2]int]float64{}
	for i, v := range response {
		x, y := i%p.w, i/p.w
		significance := float64(v / limits[(y>>blockShift)*cols+x>>blockShift])
		top := significance >= threshold
		for j := max(0, y-1); j <= min(p.h-1, y+1); j++ {
			for i := max(0, x-1); i <= min(p.w-1, x+1); i++ {
				top = top && response[j*p.w+i] <= v
			}
		}
		if top {
			out[[2]int{x, y}] = significance
		}
	}
	return out
}
