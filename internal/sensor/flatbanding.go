package sensor

import (
	"fmt"
	"math"
	"strings"

	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

// uneven is the share of the light by which rows must differ to be worth a
// word: less drowns in the shot noise of any flat's pixels.
const uneven = 1e-3

// nameBanded warns of flats whose rows differ from those of the others beyond
// noise: alternate ones, by read-outs of two fields, or in bands, by a lamp that
// flickers faster than the rows are read out. A flat is compared with the median
// of the set, which one bad flat does not move.
func (f *flatRun) nameBanded() {
	if len(f.Frames) < 3 || !f.Noise.OK() || f.Sums.Height < stats.Course {
		return
	}
	usual := medianRows(f.Sums.RowMeans)
	white := f.Noise.V / math.Sqrt(float64(f.Sums.Width)) / flatScale
	var banded []string
	var alternate []float64
	profile := make([]float64, f.Sums.Height)
	for i, fr := range f.Frames {
		for y, v := range f.Sums.RowMeans[i] {
			profile[y] = float64(v)/usual[y] - 1
		}
		a := stats.Alternation(profile)
		if a.OK() && math.Abs(a.V) > 5*a.Err {
			alternate = append(alternate, a.V)
			for y := range profile {
				profile[y] -= a.V * float64(y%2)
			}
		}
		if s := stats.MADSigma(stats.HighPass(profile)); s > 5*white && s > uneven {
			banded = append(banded, fmt.Sprintf("%s (%.1f %%)", fr.Name, 100*s))
		}
	}
	f.nameAlternate(alternate)
	if len(banded) > 0 {
		f.Warnings = append(f.Warnings, fact.Of(FlatsBanded, fact.Text("files", strings.Join(banded, ", "))))
	}
}

// nameAlternate warns of odd rows that stand above or below the even ones by
// another share in each flat.
func (f *flatRun) nameAlternate(by []float64) {
	most := 0.0
	for _, a := range by {
		most = max(most, math.Abs(a))
	}
	if most < uneven {
		return
	}
	f.Warnings = append(f.Warnings, fact.Of(FlatsAlternate, fact.Number("share_pct", 100*most), fact.Count("flats", len(by))))
}

// medianRows is the median over the frames of every row's mean.
func medianRows(rows [][]float32) []float64 {
	usual := make([]float64, len(rows[0]))
	values := make([]float64, len(rows))
	for y := range usual {
		for i := range rows {
			values[i] = float64(rows[i][y])
		}
		usual[y] = stats.MedianInPlace(values)
	}
	return usual
}
