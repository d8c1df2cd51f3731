// Package catalogue holds stars of the whole sky: where they are and how bright,
// to find a field by and to measure light against.
//
// The stars are those of the Tycho-2 catalogue (Høg et al. 2000, A&A 355, L27),
// of which 1,871,011 are here: in every patch of 0.14 square degrees the ten
// brightest, down to about V_T 12.5; half are brighter than 11.1. Magnitudes are
// V_T, near Johnson's V: V = V_T - 0.09 (B-V)_T. Their standard error is 0.013
// mag above V_T 9 and 0.1 mag over all (from memory of the paper).
//
// Places are of equinox 2000 and of the epoch of observation, about 1991: alpha
// Bootis stands 22 arcsec from where it was in 2000. The data have no proper motions.
// For half of the stars that costs less than 0.5 arcsec in the 35 years since, for
// nearly all less than 3 (from memory of the catalogue's proper motions), for a few
// hundred nearby ones up to a minute of arc. Some of the very brightest (alpha Canis
// Majoris, alpha Lyrae, alpha Ursae Minoris) are not in the data.
package catalogue

import (
	_ "embed"
	"math"
	"slices"
)

//go:generate go run ./generate -package astrometry-data-tycho2-07-littleendian -out tycho2.bin

//go:embed tycho2.bin
var tycho2 []byte

// Credit is what a report that used the stars has to say.
const Credit = "Star positions and magnitudes: Tycho-2 (Høg E., Fabricius C., Makarov V.V. et al. 2000, A&A 355, L27), " +
	"copyright 2000 Høg E., Fabricius C., Makarov V.V., Urban S., Corbin T., Wycoff G., Bastian U., Schwekendiek P., Wicenec A., " +
	"under the BSD-2-Clause licence of its Debian package."

// Star is one star of the catalogue.
type Star struct {
	RA, Dec float64 // degrees, equinox 2000; RA in [0, 360)
	Mag     float64 // V_T
}

// Separation is the angle between two directions, degrees.
func Separation(ra1, dec1, ra2, dec2 float64) float64 {
	// Haversines stay exact for small angles.
	a, b := math.Sin((dec2-dec1)*rad/2), math.Sin((ra2-ra1)*rad/2)
	return 2 * math.Asin(math.Min(1, math.Sqrt(a*a+math.Cos(dec1*rad)*math.Cos(dec2*rad)*b*b))) / rad
}

const rad = math.Pi / 180

// Cone lists the stars within radius degrees of a direction and no fainter than
// magnitude limit, brightest first.
func Cone(ra, dec, radius, limit float64) []Star {
	return cone(tycho2, ra, dec, radius, limit)
}

// Count is how many stars Cone would list.
func Count(ra, dec, radius, limit float64) (n int) {
	inCone(tycho2, ra, dec, radius, limit, func(Star) { n++ })
	return n
}

func cone(file []byte, ra, dec, radius, limit float64) []Star {
	var list []Star
	inCone(file, ra, dec, radius, limit, func(s Star) { list = append(list, s) })
	return byBrightness(list)
}

// byBrightness puts the brightest first, those of one hundredth of a magnitude by
// declination: numbers that hold both and the place in the list are sorted far quicker than
// stars are.
func byBrightness(list []Star) []Star {
	const bitsOfPlace, bitsOfDec = 28, 24 // the whole sky has 2^21 stars, and 2^23.5 steps
	keys := make([]uint64, len(list))
	for i, s := range list {
		mag, dec := uint64(math.Round((s.Mag-brightest)/hundredth)), uint64((s.Dec+90)*steps)
		keys[i] = mag<<(bitsOfDec+bitsOfPlace) | dec<<bitsOfPlace | uint64(i)
	}
	slices.Sort(keys)
	sorted := make([]Star, len(list))
	for i, k := range keys {
		sorted[i] = list[k&(1<<bitsOfPlace-1)]
	}
	return sorted
}

// inCone gives the stars of a cone in no order.
func inCone(file []byte, ra, dec, radius, limit float64, give func(Star)) {
	sinDec, cosDec := math.Sincos(dec * rad)
	// Of small angles the cosine tells little; the last hundredth of a degree is looked
	// at closely.
	sure, out := math.Cos(max(0, radius-0.01)*rad), math.Cos(min(180, radius+0.01)*rad)
	for _, cell := range cellsNear(ra, dec, radius) {
		for s := range stars(file, cell) {
			if s.Mag > limit {
				break // a cell's stars are in the order of brightness
			}
			sin, cos := math.Sincos(s.Dec * rad)
			along := sinDec*sin + cosDec*cos*math.Cos((s.RA-ra)*rad)
			if along > sure && radius > 0.1 || along >= out && Separation(ra, dec, s.RA, s.Dec) <= radius {
				give(s)
			}
		}
	}
}

// perDegree is how many stars a square degree of the whole sky has on average down to
// V_T 4, 5 ... 13, as counted in the file.
var perDegree = [10]float64{0.00812, 0.0297, 0.1039, 0.333, 1.00, 2.88, 7.87, 20.5, 39.5, 45.2}

// LimitFor is the magnitude down to which a square degree of the whole sky has so many
// stars on average: at the galactic pole it is half as many, in the Milky Way twice.
func LimitFor(density float64) float64 {
	for i := 1; i < len(perDegree); i++ {
		if lo, hi := perDegree[i-1], perDegree[i]; density < hi {
			return 3 + float64(i) + max(-2, math.Log(density/lo)/math.Log(hi/lo))
		}
	}
	return 30
}
