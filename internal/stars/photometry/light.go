package photometry

import (
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

const (
	// missingOdds is the probability by chance below which a part of the field
	// lacks stars that must be there.
	missingOdds = 0.003
	// dueFewest is the fewest stars by which a part is measured.
	dueFewest = 3
	// lostLeast is the least share of the stars that are missing without a cause.
	lostLeast = 0.02
	// broader than the group's usual width, a field's stars merge; what is missing
	// there is told where hardly any star is left.
	broader = 1.15
	// meanLeast is by how much the mean of a field's stars has to differ from the usual
	// one to count half: the systematic error of a star's light, or twice what noise makes of it.
	meanLeast = stars.Systematic
	// unlikeSigma and unlikeLeast tell a part that lets more or less through than
	// the field as a whole: in standard errors, and as a share of the light.
	unlikeSigma, unlikeLeast = 3.0, 0.05
)

// light is how much of the stars' light arrives in each part of a field, relative
// to its zero point.
//
// A part counts with the mean of its stars where that differs from the field's
// beyond doubt, and with the share of the stars found there where more of those
// are missing than chance explains. Where there are few stars, the parts are
// larger, and losses of the field as a whole count. The zero point is the middle star's,
// which may shine through a gap where cloud lies in patches: where the mean of all stars
// differs, it is the field's light. Stars that merge brighten each other, and leave the
// middle one as it is; where stars are missing, what is dimmed counts with these.
type light struct {
	part    []partLight // stars.Parts x stars.Parts
	covered stats.Value // share of the field of which no light arrives
	scatter float64     // standard error that patches make of the mean over the field, as far as that is told
	uneven  stats.Value // % sd over the field beyond what star noise explains
}

// partLight is what arrives in one part.
type partLight struct {
	known bool
	lost  float64 // share of the part that is dark
	ratio float64 // of the light that the rest lets through
}

func (z *zeroPoints) light(j int) light {
	l := z.lightByStars(j)
	if line := z.bySky(j, z.dues[j]); line != nil && !z.blurred(j) {
		return line.over(l.covered)
	}
	l.uneven = z.unevenness(j, l.covered.V)
	return l
}

// lightByStars is that light as the stars of each part tell it by themselves.
func (z *zeroPoints) lightByStars(j int) light {
	dues := z.dues[j]
	side := sideFor(len(dues))
	parts := inParts(z.fields[j], dues, side)
	blurred := z.blurred(j)
	var l light
	all := 1.0
	if mean, scatter, n := z.meanOf(j, dues); n >= minMatched && !blurred && z.lostOf(j, dues, blurred) == 0 {
		sure := min(max(math.Abs(mean-1)/max(meanLeast, 2*z.noiseOf(j, dues))-0.5, 0), 1)
		all += sure * (mean - 1)
		l.scatter = sure * scatter
	}
	var dark, n float64
	for k := range stars.Parts * stars.Parts {
		y, x := k/stars.Parts*side/stars.Parts, k%stars.Parts*side/stars.Parts
		one := z.lightOf(j, parts[y*side+x], blurred, all)
		if !one.known && side > 1 { // its quarter of the field tells, or stays untold
			x, y = x&^1, y&^1
			one = z.lightOf(j, slices.Concat(parts[y*side+x], parts[y*side+x+1], parts[(y+1)*side+x], parts[(y+1)*side+x+1]), blurred, all)
		}
		l.part = append(l.part, one)
		if one.known {
			dark, n = dark+one.lost, n+1
		}
	}
	hidden := z.hidden[j]
	if n == 0 {
		if l.covered = stats.Missing(stars.FewForCover); hidden > 0 {
			l.covered = stats.Known(hidden, unlitErr, 0)
		}
		return l
	}
	seenDark := dark / n
	share := max(seenDark, z.darkOf(j, dues, blurred))
	l.covered = stats.Known(share, math.Sqrt(max(share*(1-share), lostLeast)/float64(len(dues))), len(dues))
	if hidden > share {
		l.covered.V, l.covered.Err = hidden, unlitErr
	}
	if l.covered.V > seenDark {
		for k := range l.part { // more is missing than the parts tell each by itself
			l.part[k].lost = 1 - (1-l.part[k].lost)*(1-l.covered.V)/(1-seenDark)
		}
	}
	return l
}

// duesByPart are the stars that must be in field j by the parts of the field that they tell
// of: as many parts as there are stars for.
func (z *zeroPoints) duesByPart(j int) [][]*dueStar {
	return inParts(z.fields[j], z.dues[j], sideFor(len(z.dues[j])))
}

// inParts are some stars by the side x side parts of a field that they tell of.
func inParts(f *stars.Field, dues []*dueStar, side int) [][]*dueStar {
	parts := make([][]*dueStar, side*side)
	for _, d := range dues {
		at := stars.PartOf(d.x, d.y, f.Width, f.Height, side)
		parts[at] = append(parts[at], d)
	}
	return parts
}

// lightOf is what arrives in a part of field j, by the stars that must be there; usual is
// the ratio of the field as a whole.
func (z *zeroPoints) lightOf(j int, dues []*dueStar, blurred bool, usual float64) partLight {
	p := partLight{known: len(dues) >= dueFewest, ratio: usual}
	if p.known {
		p.lost, p.ratio = z.lostOf(j, dues, blurred), z.ratioOf(j, dues, usual)
	}
	return p
}

// ratioOf is the mean light of those of some stars that are seen in field j, over its
// zero point, where it surely differs from the usual: the scale of the light may be off
// over a part of the field by as much as over all of it, for all stars together.
func (z *zeroPoints) ratioOf(j int, dues []*dueStar, usual float64) float64 {
	mean, scatter, n := z.meanOf(j, dues)
	scatter = math.Hypot(math.Hypot(scatter, confusionOf(dues)), z.pooled[j].filterErr)
	if n >= dueFewest && math.Abs(mean-usual) > max(unlikeLeast*usual, unlikeSigma*scatter) {
		return mean
	}
	return usual
}

// meanOf is the mean light of those of some stars that are seen in field j, over its zero
// point, with its standard error and their number; 1 of none. Where enough stand alone,
// blends and knots do not count.
func (z *zeroPoints) meanOf(j int, dues []*dueStar) (mean, scatter float64, n int) {
	var sum, squares float64
	for _, d := range dues {
		if d.seen != nil && z.counts(j, d.seen) {
			v := math.Exp(min(max(z.residual(j, d.seen), -3), 1))
			sum, squares, n = sum+v, squares+v*v, n+1
		}
	}
	if n < 2 {
		return 1, 0, n
	}
	mean = sum / float64(n)
	return mean, math.Sqrt(max(0, squares/float64(n)-mean*mean) / float64(n-1)), n
}

// noiseOf is what the noise of the stars of meanOf makes of their mean.
func (z *zeroPoints) noiseOf(j int, dues []*dueStar) float64 {
	var sum, n float64
	for _, d := range dues {
		if d.seen != nil && z.counts(j, d.seen) {
			sum, n = sum+z.starVariance(d.seen), n+1
		}
	}
	return math.Sqrt(sum) / max(1, n)
}

// confusionOf is the mean of what the stars' ln fluxes may be off by through fainter
// ones: in a part of the field, these raise or lower all of them together.
func confusionOf(dues []*dueStar) float64 {
	var sum, n float64
	for _, d := range dues {
		if d.seen != nil {
			sum, n = sum+d.seen.confused, n+1
		}
	}
	return sum / max(1, n)
}

// blurred tells whether a field's stars are so crowded, or so much broader than the
// group's, that many are missing because they merge with others.
func (z *zeroPoints) blurred(j int) bool {
	f := z.fields[j]
	return z.filled(j) > stars.CrowdedFrom || f.FWHM.OK() && f.FWHM.V > broader*z.width
}

// filled is the share of a field that detected images fill; NaN where their width is
// unknown.
func (z *zeroPoints) filled(j int) float64 {
	f := z.fields[j]
	return float64(f.Count) * f.FWHM.V * f.FWHM.V / float64(f.Width*f.Height)
}

// darkOf is the share of a field's light that does not arrive, where more of its
// stars are missing than chance explains: then what is dimmed counts too, as on the
// rim of frost or of a tree.
func (z *zeroPoints) darkOf(j int, dues []*dueStar, blurred bool) float64 {
	if z.lostOf(j, dues, blurred) == 0 {
		return 0
	}
	var arrives, expected float64
	for _, d := range dues {
		expected += min(d.odds, 1-lostLeast)
		if d.seen != nil {
			arrives += math.Exp(min(z.residual(j, d.seen), 1))
		}
	}
	return max(0, 1-arrives/expected)
}

// lostOf is the share of stars that are missing beyond what chance explains; of a
// blurred field only where hardly any is left.
func (z *zeroPoints) lostOf(j int, dues []*dueStar, blurred bool) float64 {
	missing, expected := missingOf(dues)
	n := float64(len(dues))
	if !z.beyondChance(j, dues, expected) {
		return 0
	}
	if blurred && missing < mostGone*n {
		return 0
	}
	return (missing - expected) / (n - expected)
}

// parts are the light of each part, NaN where no star tells.
func (l *light) parts() []float64 {
	var out []float64
	for _, p := range l.part {
		if p.known {
			out = append(out, p.ratio*(1-p.lost))
		} else {
			out = append(out, math.NaN())
		}
	}
	return out
}

// mean is the light of the whole field, relative to its zero point.
func (l *light) mean() float64 {
	var sum, n float64
	for _, p := range l.part {
		if p.known {
			sum, n = sum+p.ratio*(1-p.lost), n+1
		}
	}
	if n == 0 {
		return 1
	}
	return sum / n
}

// depth is the mean over the field of the squared ratio of light to noise: what a
// sub adds to a stack of subs of the same exposure, in units^-2.
func (l *light) depth(zero float64, f *stars.Field) stats.Value {
	if !(f.RandomNoise.V > 0) {
		return stats.Missing(stars.NoiseUnknown, fact.Reason(f.RandomNoise.Why))
	}
	noise := make([]float64, len(l.part))
	for k := range noise {
		noise[k] = f.RandomNoise.V
		if k < len(f.NoiseParts) && f.NoiseParts[k] > 0 {
			noise[k] = f.NoiseParts[k]
		}
	}
	noise = l.litNoise(noise)
	var sum, n float64
	for k, p := range l.part {
		if p.known {
			t := zero * p.ratio / noise[k]
			sum, n = sum+(1-p.lost)*t*t, n+1
		}
	}
	if n == 0 {
		t := zero / f.RandomNoise.V
		return stats.Known(t*t, math.NaN(), 0)
	}
	return stats.Known(sum/n, math.NaN(), int(n))
}

// littleCover is the share of a field up to which what covers it cannot have quietened
// most of its parts.
const littleCover = 0.15

// litNoise is the noise of the lit pixels of each part. Where something is covered, its
// parts are quieter than the lit pixels between them: these have the noise of the louder
// parts. Parts differ by what is bright in the field, too: where little is covered, as
// many of the quietest may be dark, and the others are not quietened by more than that.
func (l *light) litNoise(noise []float64) []float64 {
	dark := l.covered.V
	if !(dark > 0.02) {
		return noise
	}
	lit := slices.Clone(noise)
	loud, quiet := stats.Quantile(noise, 0.9), stats.Quantile(noise, dark)
	for k, v := range noise {
		most := loud
		if dark < littleCover && v > quiet {
			most = min(loud, v*quietened(dark))
		}
		lit[k] = max(v, most)
	}
	return lit
}

// quietened is how many times as large the noise of lit pixels is at most as that of all,
// by the median deviation, where a share below half is dark: all dark pixels are within it.
func quietened(dark float64) float64 {
	return math.Erfinv(0.5) / math.Erfinv((0.5-dark)/(1-dark))
}
