package sensor

import (
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

// fitTransfer fits variance against signal below 70 % of saturation (EMVA 1288
// photon transfer; from memory), and looks how far the curve falls below the
// line above that.
func (m *mode) fitTransfer() {
	m.findPeak()
	var x, y, sigma []float64
	m.curvature = stats.Missing(CurveTooShort)
	for i := range m.transfer {
		p := &m.transfer[i]
		p.Fitted = p.Err > 0 && p.Signal < m.linearTop()
		if p.Fitted {
			x, y, sigma = append(x, p.Signal), append(y, p.Variance), append(sigma, p.Err)
		}
	}
	if len(x) < 2 || spanOf(x) < 0.2*stats.Median(x) {
		m.fit = stats.Line{}
		return
	}
	fit, err := stats.FitLine(x, y, sigma)
	if err != nil {
		return
	}
	m.fit = fit
	for i := range m.transfer {
		p := &m.transfer[i]
		p.Residual = p.Variance - fit.At(p.Signal)
	}
	m.measureCurvature()
}

// findPeak looks for the full well: between where the variance peaks and where it has
// fallen though more light follows.
func (m *mode) findPeak() {
	var fallen []TransferPoint
	m.peakAt, fallen = pastPeak(m.transfer)
	m.fallenAt = math.Inf(1)
	for _, p := range fallen {
		m.fallenAt = min(m.fallenAt, p.Signal)
	}
}

// pastPeak is the signal at which the variance peaks, and the points of more light whose
// variance has fallen: of pixels that are full.
func pastPeak(points []TransferPoint) (peakAt float64, fallen []TransferPoint) {
	peak := 0.0
	for _, p := range points {
		if p.Variance > peak {
			peak, peakAt = p.Variance, p.Signal
		}
	}
	for _, p := range points {
		if p.Signal > peakAt && p.Variance < 0.8*peak {
			fallen = append(fallen, p)
		}
	}
	return peakAt, fallen
}

// measureCurvature compares the points between 50 and 70 % of saturation with
// a line through those below 30 %.
func (m *mode) measureCurvature() {
	var x, y, s []float64
	for _, p := range m.transfer {
		if p.Err > 0 && p.Signal < 0.3*m.saturation {
			x, y, s = append(x, p.Signal), append(y, p.Variance), append(s, p.Err)
		}
	}
	low, err := stats.FitLine(x, y, s)
	if len(x) < 2 || err != nil {
		return
	}
	var sum, weight float64
	n := 0
	for _, p := range m.transfer {
		if p.Err > 0 && p.Signal > 0.5*m.saturation && p.Signal < fitUpTo*m.saturation {
			line := low.At(p.Signal)
			e := 100 * math.Hypot(p.Err, stats.OrZero(low.ErrAt(p.Signal))) / line
			sum += 100 * (line - p.Variance) / line / (e * e)
			weight += 1 / (e * e)
			n++
		}
	}
	if n > 0 {
		m.curvature = stats.Known(sum/weight, 1/math.Sqrt(weight), n)
	}
}

// wildPairs is how many times more than their stated errors pairs may scatter
// before their mean is no figure any more.
const wildPairs = 5

// weightedGain leaves out pairs that stand off the median of three or more by
// five of their errors and by 3 %: a banded flat, or a light that jumped. No number of
// pairs lessens what offset and read noise of other series are off.
func weightedGain(points []TransferPoint) stats.Value {
	var why fact.Fact
	var gains []float64
	for _, p := range points {
		if p.Gain.OK() {
			gains = append(gains, p.Gain.V)
		} else {
			why = p.Gain.Why
		}
	}
	if len(gains) == 0 {
		return stats.Because(why)
	}
	median := stats.Median(gains)
	var kept []TransferPoint
	for _, p := range points {
		if off := math.Abs(p.Gain.V - median); p.Gain.OK() && (len(gains) < 3 || off <= max(5*p.Gain.Err, 0.03*median)) {
			kept = append(kept, p)
		}
	}
	if 2*len(kept) < len(gains)+1 {
		return stats.Missing(FewPairsAgree, fact.Count("agree", len(kept)), fact.Count("pairs", len(gains)))
	}
	mean := meanGain(kept)
	if n := float64(len(kept)); n > 2 {
		var each []float64
		var weight float64
		for _, p := range kept {
			each = append(each, p.Gain.V)
			weight += p.weight()
		}
		scatter := math.Sqrt(stats.Variance(each))
		if stated := mean.V * math.Sqrt(n/weight); scatter > wildPairs*stated && scatter > 0.01*median {
			return stats.Missing(PairsScatter, fact.Number("scatter_pct", 100*scatter/median), fact.Number("times", scatter/stated))
		}
		mean.Err = max(mean.Err, scatter/math.Sqrt(n-1))
	}
	var shared float64
	for _, p := range kept {
		shared += p.shared / float64(len(kept))
	}
	mean.Err = math.Hypot(mean.Err, mean.V*shared)
	return mean
}

// weight is that of a point's gain by its relative error.
func (p *TransferPoint) weight() float64 {
	rel := p.Gain.Err / p.Gain.V
	return 1 / (rel * rel)
}

// bends is the share by which ADU/e- must fall, beyond five of its errors, for the
// response to be taken for bent: bright flats' gain is that much too high.
const bends = 0.02

// withoutLight is the gain carried to no light where ADU/e- falls with it, and by how
// much it falls up to the brightest point, %. A response S = L - a L² has the variance
// of the light times (1 - 2aL)², which over S is 1 - 3aS to first order (derived; as
// charge shared among pixels, it leaves the slope at no light alone). Missing where
// ADU/e- does not fall, or the levels do not tell.
func withoutLight(points []TransferPoint) (gain stats.Value, fallsPct float64) {
	var x, y, sigma []float64
	for _, p := range points {
		if p.Gain.OK() {
			x, y = append(x, p.Signal), append(y, 1/p.Gain.V)
			sigma = append(sigma, math.Sqrt(1.5)*p.Gain.Err/(p.Gain.V*p.Gain.V)) // neighbouring pairs share a flat
		}
	}
	none := stats.Missing(NoBend)
	if len(x) < 2 || spanOf(x) < 0.2*stats.Median(x) {
		return none, 0
	}
	line, err := stats.FitLine(x, y, sigma)
	if err != nil || line.At(0) <= 0 {
		return none, 0
	}
	top := slices.Max(x)
	falls := -line.B * top / line.At(0)
	if falls < bends || -line.B < 5*stats.OrZero(line.ErrB) {
		return none, 0
	}
	g := 1 / line.At(0)
	return stats.Known(g, g*g*stats.OrZero(line.ErrAt(0)), len(x)+1), 100 * falls
}

// sharedFlat is how the variances of two differences correlate that share a flat:
// the differences by a half, their squares by the square of that.
const sharedFlat = 0.25

// meanGain is the mean of ADU/e-, which the variances are proportional to, turned
// over: a mean of e-/ADU would be high by the variances' own scatter.
func meanGain(points []TransferPoint) stats.Value {
	var sum, weight, square float64
	for i := range points {
		p := &points[i]
		w := p.weight()
		sum += w / p.Gain.V
		weight += w
		square += w
		for j := range points[:i] {
			if q := &points[j]; q.sharesFlat(p) {
				square += 2 * sharedFlat * math.Sqrt(w*q.weight())
			}
		}
	}
	g := weight / sum
	return stats.Known(g, g*math.Sqrt(square)/weight, len(points)+1)
}

// sharesFlat tells whether a flat is in both of two pairs of one colour.
func (p *TransferPoint) sharesFlat(q *TransferPoint) bool {
	return p.plane == q.plane && (p.of[0] == q.of[1] || p.of[1] == q.of[0])
}
