package photometry

import (
	"math"

	"gonum.org/v1/gonum/stat"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// What dims a part of the field without hiding its stars, a tree or a roof out of focus or
// frost, dims its sky as well, and a lit cloud brightens it: between the few stars that tell,
// the sky's level beside that of the other fields tells where light is lost. How much a
// step of the sky stands for, the stars tell: no offset has to be known, nor what lights the
// cover (a regression estimate of a mean: Cochran 1977, from memory).
const (
	skyFewest  = 8    // stars behind the line
	skyScatter = 0.05 // sd of the light of a field's stars from which on it is uneven
	skySigma   = 5.   // standard errors by which the line's slope differs from none
)

// skyLine is the light of a field's parts as a line over their sky.
type skyLine struct {
	light   []float64 // stars.SkyParts x stars.SkyParts, relative to the zero point
	scatter float64   // standard error of its mean
	slope   float64   // relative standard error of what it differs by
}

// bySky is that line for field j where its sky surely tells of its light; nil elsewhere.
func (z *zeroPoints) bySky(j int, dues []*dueStar) *skyLine {
	f := z.fields[j]
	var place []int
	var light []float64
	for _, d := range dues {
		if at := stars.PartOf(d.x, d.y, f.Width, f.Height, stars.SkyParts); d.seen == nil {
			place, light = append(place, at), append(light, 0)
		} else if z.counts(j, d.seen) {
			place, light = append(place, at), append(light, math.Exp(min(z.residual(j, d.seen), -math.Log(noLight))))
		}
	}
	if len(light) < skyFewest || !(stat.StdDev(light, nil) > skyScatter) {
		return nil
	}
	step := z.skySteps(j)
	if step == nil {
		return nil
	}
	sky := make([]float64, len(place))
	for i, at := range place {
		sky[i] = step[at]
	}
	a, b := stat.LinearRegression(sky, light, nil, false)
	left, n := 0.0, float64(len(sky))
	for i, x := range sky {
		off := light[i] - a - b*x
		left += off * off
	}
	s := math.Sqrt(left / (n - 2))
	err := s / math.Sqrt((n-1)*stat.Variance(sky, nil))
	if !(math.Abs(b) > skySigma*err) {
		return nil
	}
	least, most := stats.Quantile(sky, 0), stats.Quantile(sky, 1)
	line := &skyLine{slope: err / math.Abs(b)}
	for _, x := range step {
		line.light = append(line.light, max(0, a+b*min(max(x, least), most)))
	}
	line.scatter = math.Hypot(s/math.Sqrt(n), err*(stats.Mean(step)-stats.Mean(sky)))
	return line
}

// skySteps is the level of each part over that of the same part in the other fields that
// show the same sky; nil where too few do, or a part's level is not known.
func (z *zeroPoints) skySteps(j int) []float64 {
	f := z.fields[j]
	over := make([][]float64, len(f.SkyParts))
	z.eachPeer(j, func(i int) {
		if !z.showsLevel(i, j) {
			return
		}
		for k := range over {
			over[k] = append(over[k], f.SkyParts[k]-z.fields[i].SkyParts[k])
		}
	})
	var steps []float64
	for _, v := range over {
		step := stats.Median(v)
		if len(v) < unlitPeers || math.IsNaN(step) {
			return nil
		}
		steps = append(steps, step)
	}
	return steps
}

// over is the light by that line. Where it falls to none, what stands there is opaque, and
// covers what it takes, unless the stars or the sky by itself tell of more.
func (s *skyLine) over(covered stats.Value) light {
	const times = stars.SkyParts / stars.Parts
	l := light{part: make([]partLight, stars.Parts*stars.Parts), scatter: s.scatter, covered: covered}
	lit := stats.Quantile(s.light, litLevel)
	for k, v := range s.light {
		p := &l.part[k/stars.SkyParts/times*stars.Parts+k%stars.SkyParts/times]
		p.known = true
		p.ratio += v / (times * times)
		if v < noLight*lit {
			p.lost += (1 - v/lit) / (times * times)
		}
	}
	for k := range l.part {
		if p := &l.part[k]; p.lost < 1 {
			p.ratio /= 1 - p.lost
		}
	}
	mean := stats.Mean(s.light)
	if dark := 1 - mean/lit; stats.Quantile(s.light, opaqueLeast) < noLight*lit && dark > covered.V {
		l.covered = stats.Known(dark, dark*s.slope, covered.N)
	}
	uneven := 100 * stat.PopStdDev(s.light, nil) / mean
	l.uneven = stats.Known(uneven, uneven*s.slope, covered.N)
	return l
}

// opaqueLeast is the share of the parts that have to be without light.
const opaqueLeast = 0.05
