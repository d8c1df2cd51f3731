package tie

import (
	"math"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// patches is the side of the grid on which unevenness is looked for.
const patches = 4

// due tells which stars must be there in one field: inside its frame, as far as
// its own zero point tells bright enough, and no part of a neighbour's image.
func (z *zeroPoints) due(j int) []dueStar {
	f := z.fields[j]
	back := z.al[j].Transform.Inverse()
	found := make([]bool, len(z.star))
	var faint []float64
	for _, o := range z.obs[j] {
		found[o.star] = true
		faint = append(faint, f.Stars[o.index].FluxErr)
	}
	limit := math.Log(2 * surelySeen * stats.Median(faint) / z.scaleOf(j))
	var out []dueStar
	for i, ln := range z.star {
		if z.seen[i] < 2 || ln+z.zero[j] < limit || z.merged[j][i] {
			continue
		}
		x, y := back.Apply(z.place[i].x, z.place[i].y)
		if x < 4 || y < 4 || x > float64(f.Width-5) || y > float64(f.Height-5) {
			continue
		}
		out = append(out, dueStar{i, stars.PartOf(x, y, f.Width, f.Height, patches), found[i]})
	}
	return out
}

// dueStar is a star that must be there.
type dueStar struct {
	star, part int
	found      bool
}

// findDue fills due by field, and keeps the stars that most of the fields show in
// which they must be: what only a few show (second images of a jump, knots on a
// spike, a passing satellite) is no star that others lack.
func (z *zeroPoints) findDue() {
	z.dues = make([][]dueStar, len(z.fields))
	could, has := make([]int, len(z.star)), make([]int, len(z.star))
	for j := range z.fields {
		if z.why[j] != "" || z.useful(j) < minMatched {
			continue
		}
		z.dues[j] = z.due(j)
		for _, d := range z.dues[j] {
			could[d.star]++
			if d.found {
				has[d.star]++
			}
		}
	}
	for j := range z.dues {
		z.dues[j] = slices.DeleteFunc(z.dues[j], func(d dueStar) bool { return 2*has[d.star] <= could[d.star] })
	}
}

// hidden is the share of the field, by stars, in which none or hardly any of
// the stars shows that must be there.
func (z *zeroPoints) hidden(j int) float64 {
	var want, have [patches * patches]float64
	for _, d := range z.dues[j] {
		want[d.part]++
		if d.found {
			have[d.part]++
		}
	}
	var all, gone float64
	for c := range want {
		all += want[c]
		if want[c] >= 4 && have[c] < 0.3*want[c] {
			gone += want[c] - have[c]
		}
	}
	if all == 0 {
		return 0
	}
	return gone / all
}

// patch is the residuals of the stars in one part of the field, and their weights.
type patch struct{ ln, weight []float64 }

// unevenness compares the scatter of the ratio between patches of the field
// with what the noise of their stars explains. A patch counts with the median of
// three stars or more, so that one that varies or is two does not make a cloud;
// only where the field is too sparse for that, single ones have to do.
func (z *zeroPoints) unevenness(j int, hidden float64) stats.Value {
	f := z.fields[j]
	var field [patches * patches]patch
	for _, o := range z.obs[j] {
		if z.seen[o.star] < 2 || math.Abs(z.residual(j, o)) > 1.5 {
			continue
		}
		s := &f.Stars[o.index]
		if math.Exp(z.star[o.star]+z.zero[j]-o.ln)*s.Flux/s.FluxErr < surelySeen {
			continue
		}
		p := &field[stars.PartOf(o.x, o.y, f.Width, f.Height, patches)]
		p.ln = append(p.ln, z.residual(j, o))
		p.weight = append(p.weight, o.weight()/(z.spread*z.spread))
	}
	ratio, noise := ratios(field[:], 3)
	if len(ratio) < 4 {
		ratio, noise = ratios(field[:], 1)
	}
	if len(ratio) < 4 {
		return stats.Missing("too few stars to compare parts of the field")
	}
	n := float64(len(ratio))
	variance := stats.Variance(ratio) * n / (n - 1)
	excess := variance - stats.Mean(noise)
	v := math.Sqrt(max(0, excess))
	// Hidden parts let nothing through: a share h at zero adds h (1 - h) of the ratio's square.
	v = math.Hypot(v, math.Sqrt(hidden*(1-hidden)))
	return stats.Known(100*v, 100*math.Sqrt(variance/(2*(n-1))), len(ratio))
}

// ratios are those of the patches with so many stars that are known to a tenth,
// and their variances: by what the stars' noise makes, or by what those of a patch
// scatter when that is more, as where fainter ones add to their light.
func ratios(field []patch, fewest int) (ratio, noise []float64) {
	for _, p := range field {
		if len(p.ln) < fewest {
			continue
		}
		var sum float64
		for _, w := range p.weight {
			sum += w
		}
		median := stats.MedianValue(p.ln, p.weight, nil, "")
		variance := 1 / sum
		if len(p.ln) > 2 {
			variance = max(variance*math.Pi/2, median.Err*median.Err)
		}
		if variance < 0.1*0.1 {
			ratio, noise = append(ratio, math.Exp(median.V)), append(noise, variance)
		}
	}
	return ratio, noise
}
