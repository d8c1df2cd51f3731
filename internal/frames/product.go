package frames

import (
	"errors"
	"math"
	"slices"
	"strings"

	"fitsqa/internal/fact"
	"fitsqa/internal/names"
	"fitsqa/internal/stats"
)

// markProducts tells apart what lies among the frames and is none: maps of bad
// pixels, empty images, spectra, finished stacks, crops, colour previews. They are
// counted and left alone.
func markProducts(fs []*Frame) {
	for _, f := range fs {
		f.product(f.madeOf())
	}
	markResampled(fs)
	markStacks(fs)
	for _, f := range begunAlike(fs) {
		f.product(FinishedStack)
	}
	markCrops(fs)
}

// markResampled marks the subs that were aligned or otherwise interpolated. Who aligns
// a night aligns all of it, the one that the others were aligned to among them: what
// most subs of a camera, size and sample format show holds for all of those, and what
// fewer show for none.
func markResampled(fs []*Frame) {
	type kind struct {
		camera                names.Name
		width, height, bitpix int
	}
	lights := map[kind][]*Frame{}
	found := map[kind]int{}
	for _, f := range fs {
		if f.Err != nil || f.Kind != Light || f.Meta.Bayer != "" {
			continue
		}
		k := kind{f.Meta.Camera, f.Image.Width, f.Image.Height, f.Image.Bitpix}
		lights[k] = append(lights[k], f)
		if f.look.resampled() {
			found[k]++
		}
	}
	for k, alike := range lights {
		if 2*found[k] <= len(alike) {
			continue
		}
		for _, f := range alike {
			f.Resampled = true
			f.warn(SharedNoise)
		}
	}
}

func (f *Frame) product(what fact.Code) {
	if what != "" {
		f.Kind, f.Product = Product, what
	}
}

// mapNames are words of file and header names of maps, blanks left out.
var mapNames = []names.Key{"badpix", "defectmap", "defectpix", "pixelmask", "hotpixelmap", "hotpixmap", "cosmeticmap", "weightmap", "flagmap"}

// madeOf is what product a frame is by itself; "" for a frame.
func (f *Frame) madeOf() fact.Code {
	if errors.Is(f.Err, errOneAxis) {
		return SpectrumOfOneAxis
	}
	if f.Err != nil || f.Master {
		return ""
	}
	for _, text := range []string{f.base(), f.headerKind} {
		key := names.Name(text).Key()
		for _, part := range mapNames {
			if strings.Contains(string(key), string(part)) {
				return BadPixelMap
			}
		}
	}
	l := f.look
	switch {
	case !l.taken || f.Kind.isCalibration():
		return ""
	case l.values == 1 && l.peak == l.median && l.spread == 0 && !f.filledTo(l.median):
		return EmptyImage
	case l.values > 1 && l.values < manyValues && l.spread == 0 && l.noise == 0 && l.peak-l.median <= 255 && l.median <= 1 && !l.fine:
		return BadPixelMap
	case f.Image.Planes == 3 && f.Image.Bitpix == 8:
		return ColourPreview
	case l.spectral() || f.dispersed:
		return Spectrum
	}
	return ""
}

// filledTo tells whether a level of all pixels is where a converter ends: as whole
// numbers, or as parts of 1, of which 16 bits are 65535 to some and 65536 to others.
func (f *Frame) filledTo(level float64) bool {
	if f.Image.Bitpix > 0 || level > 1 {
		return AtFullScale(level)
	}
	return slices.ContainsFunc(sixteenBits, func(one float64) bool { return isPart(level, one) && AtFullScale(math.Round(level*one)) })
}

// AtFullScale tells the largest value that a converter of 8 to 16 bits writes, at the
// bottom of the samples or moved to their top: all pixels of a sub that dusk or a lamp
// filled have it, and it was exposed all the same.
func AtFullScale(level float64) bool {
	for bits := 8; bits <= 16; bits++ {
		for up := 0; bits+up <= 16; up++ {
			if level == float64((int(1)<<bits-1)<<up) {
				return true
			}
		}
	}
	return false
}

// spectral tells that one axis is smooth and the other is not: an image of stars is
// as rough along as across its rows.
func (l look) spectral() bool {
	const rougher = 5
	return l.taken && min(l.along, l.cross) > 0 && (l.cross > rougher*l.along || l.along > rougher*l.cross)
}

// markStacks finds finished stacks among raw subs: of wider samples than they, and much
// less noise where it is a mean, or as many times their level as their exposure where
// it is a sum. Raw subs of its filter are the measure, of any where it names none.
func markStacks(fs []*Frame) {
	var raw []*Frame
	for _, f := range fs {
		if f.Err == nil && f.Kind == Light && f.Image.Bitpix == 16 && f.look.taken {
			raw = append(raw, f)
		}
	}
	for _, f := range fs {
		if f.Err != nil || f.Kind != Light || f.Image.Bitpix > 0 && f.Image.Bitpix < 32 || !f.look.taken {
			continue
		}
		var beside []*Frame
		for _, o := range raw {
			if f.Meta.Filter == "" || o.Meta.Filter == f.Meta.Filter {
				beside = append(beside, o)
			}
		}
		if len(beside) >= 3 && (f.meanOf(beside) || f.sumOf(beside)) {
			f.product(FinishedStack)
		}
	}
}

// meanOf tells whether a frame has less than half the noise of any raw sub; of the
// usual one where it has no exposure, as no sub has none.
func (f *Frame) meanOf(raw []*Frame) bool {
	noise := make([]float64, len(raw))
	for i, o := range raw {
		noise[i] = o.look.noise
	}
	limit := slices.Min(noise)
	if !(f.Meta.Exposure > 0) {
		limit = stats.Median(noise)
	}
	own := f.look.noise
	if f.look.peak <= 1 {
		own *= 65535 // scaled to 1
	}
	return own < limit/2
}

// sumOf tells whether a frame's level is that of raw subs as many times as its
// exposure is theirs: a longer sub would have the camera's offset once only.
func (f *Frame) sumOf(raw []*Frame) bool {
	var exposure, level []float64
	for _, o := range raw {
		level = append(level, o.look.median)
		if o.Meta.Exposure > 0 {
			exposure = append(exposure, o.Meta.Exposure)
		}
	}
	times := f.Meta.Exposure / stats.Median(exposure)
	return times > 1.9 && f.look.median > 0.95*times*slices.Min(level)
}

// markCrops finds single pictures cut from subs: one of its size, smaller both ways
// than nearly all others of its camera, by no whole factor of binning.
func markCrops(fs []*Frame) {
	type size struct{ w, h int }
	count := map[names.Name]map[size]int{}
	for _, f := range fs {
		if f.Err == nil && f.Kind == Light {
			if count[f.Meta.Camera] == nil {
				count[f.Meta.Camera] = map[size]int{}
			}
			count[f.Meta.Camera][size{f.Image.Width, f.Image.Height}]++
		}
	}
	for _, f := range fs {
		own := size{f.Image.Width, f.Image.Height}
		of := count[f.Meta.Camera]
		if f.Err != nil || f.Kind != Light || of[own] > 1 {
			continue
		}
		for other, n := range of {
			if n >= 5 && own.w <= other.w && own.h <= other.h && own != other && !binned(own.w, other.w) && !binned(own.h, other.h) {
				f.product(CutFromSub)
			}
		}
	}
}

// binned tells whether a length is a whole fraction of another, as binning leaves it.
func binned(short, long int) bool {
	if short == long || short == 0 {
		return false
	}
	factor := math.Round(float64(long) / float64(short))
	return factor >= 2 && math.Abs(float64(long)/factor-float64(short)) < 2
}

// Products are files that are one kind of product.
type Products struct {
	What  fact.Code
	Files int
	First string // name of the first
}

// Fact says how many files are such a product.
func (p Products) Fact() fact.Fact { return fact.Of(p.What, fact.Count("files", p.Files)) }

// ProductsOf are the products among frames, in the order of the first of each.
func ProductsOf(fs []*Frame) []Products {
	var found []Products
	for _, f := range fs {
		if f.Product == "" {
			continue
		}
		i := slices.IndexFunc(found, func(p Products) bool { return p.What == f.Product })
		if i < 0 {
			i, found = len(found), append(found, Products{What: f.Product, First: Printable(f.Name)})
		}
		found[i].Files++
	}
	return found
}
