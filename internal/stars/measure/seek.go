package measure

import (
	"math"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/detect"
	"fitsqa/internal/stars/figures"
	"fitsqa/internal/stars/plane"
	"fitsqa/internal/stats"
)

// A star that a sub does not show by itself still shines at its place, and what is not
// there tells as much. Where other subs show the stars, their places are known but for
// the shift of this one, and that is where all of them together are brightest: with a few
// dozen dithers to choose from, five standard errors together are no chance, though each
// star by itself is lost in the noise. The light of each is then the sum in an aperture
// less the level around it, found or not, with its noise.
// Stars that are too soft to be found, rings above all, have lost nothing of it: it is
// spread around their places. How far the light of all together reaches tells soft stars
// from dimmed ones, whose light is missing in every aperture.

const (
	soughtPerFWHM = 1.0 // radius of the narrowest aperture
	soughtWidest  = 8   // times that of it, of the widest
	soughtLargest = 16  // px, radius of the widest: half the side of a cell of the background
	soughtBeyond  = 1.5 // times the usual half-flux diameter, beyond which an aperture twice as wide sees more
)

// Seek measures the light of stars at known places of a picture of w x h pixels, up to
// reach px aside, all alike. Stars hold places and expected light; fwhm px is their width, and
// usual the half-flux diameter of all of them where they were sought before (NaN: unknown).
// data is changed as Measure does.
func (ms *Measurer) Seek(data []float32, w, h int, opt stars.Options, expected []stars.Star, fwhm, usual float64, reach int) Sought {
	p := &ms.p
	if len(expected) == 0 || !ms.read(data, w, h, opt) {
		return Sought{Share: math.NaN(), Most: math.NaN()}
	}
	out, radius := ms.findWide(expected, fwhm, usual, reach)
	if !out.Found {
		return out
	}
	a := newAperture(p, radius)
	if out.Size.OK() {
		out.Drawn = a.drawn(moved(expected, out.DX, out.DY), out.Size.V)
	}
	for _, st := range expected {
		x, y := st.X+out.DX, st.Y+out.DY
		flux := a.sum(x, y)
		if !math.IsNaN(flux) {
			flux -= a.level(x, y) * a.area()
		}
		out.Flux, out.Err = append(out.Flux, flux), append(out.Err, plane.WithPhotons(math.Hypot(a.noise(x, y)), flux, p.Gain))
	}
	return out
}

// Narrow lists what filters of some widths, px, find in a picture, the brightest first. data is
// changed as Measure does.
func (ms *Measurer) Narrow(data []float32, w, h int, opt stars.Options, widths []float64) (found [][]stars.Star) {
	if !ms.read(data, w, h, opt) {
		return nil
	}
	for _, fwhm := range widths {
		s := detect.RoundSeeing(fwhm)
		_, list := ms.take(detect.Catalogue(&ms.p, s, opt.Threshold), s, opt.Threshold)
		figures.ByFlux(list)
		found = append(found, list)
	}
	return found
}

// read makes a picture the one that is looked at; false where no light shows in it.
func (ms *Measurer) read(data []float32, w, h int, opt stars.Options) bool {
	p := &ms.p
	p.W, p.H, p.R = w, h, data[:w*h]
	p.Green, p.Gain, p.Saturation = -1, opt.Gain, opt.Saturation
	return ms.subtract(opt).Code == ""
}

// findWide finds stars, in apertures as wide as their light is spread beyond the usual, and
// the radius of that which holds it. What shows in a wide one only, too faint for a curve of
// growth, is as large as these tell.
func (ms *Measurer) findWide(expected []stars.Star, fwhm, usual float64, reach int) (out Sought, radius float64) {
	var seen []within
	for wide := 1; wide <= soughtWidest; wide *= 2 {
		a := newAperture(&ms.p, float64(wide)*soughtPerFWHM*fwhm)
		if wide > 1 && a.radius > soughtLargest {
			break
		}
		var got Sought
		if !out.Found {
			got = newChart(a, expected, reach).best()
		} else { // in a narrower one
			got = newChart(a, moved(expected, out.DX, out.DY), min(reach, int(math.Ceil(a.radius)))).best()
			got.DX, got.DY = got.DX+out.DX, got.DY+out.DY
		}
		if got.Found {
			got.Size = a.size(moved(expected, got.DX, got.DY))
		}
		seen = append(seen, within{a.radius, got})
		if wide == 1 || got.Found && (got.Size.OK() || !out.Found || !out.Size.OK()) {
			out, radius = got, a.radius
		}
		if out.Found && (wide == 1 || out.Size.OK()) && !(out.Size.Surely() > soughtBeyond*float64(wide)*usual) {
			break
		}
	}
	if out.Found && !out.Size.OK() && len(seen) > 1 {
		out.Size = halfFlux(seen, len(expected))
		return out, radius
	}
	radius = soughtPerFWHM * fwhm
	if out.Size.Surely() > usual {
		radius *= out.Size.V / usual
	}
	return out, radius
}

// within is what was seen within a radius.
type within struct {
	radius float64
	light  Sought
}

// halfFlux is the diameter of the aperture that holds half of what the widest one shows, to
// the step from one aperture to the next that half as much light and its error span.
func halfFlux(seen []within, n int) stats.Value {
	widest := 0
	for k, v := range seen {
		if v.light.Found {
			widest = k
		}
	}
	total := seen[widest].light
	off := (total.Most - total.Share) / 2
	at := func(half float64) float64 {
		var from within
		for _, to := range seen[:widest+1] {
			if to.light.Share >= half {
				return from.radius + (to.radius-from.radius)*(half-from.light.Share)/(to.light.Share-from.light.Share)
			}
			from = to
		}
		return from.radius
	}
	radius := at(total.Share / 2)
	return stats.Known(2*radius, 2*(radius-at(total.Share/2-off)), n)
}

// moved are stars elsewhere.
func moved(list []stars.Star, dx, dy float64) []stars.Star {
	out := make([]stars.Star, len(list))
	for i, st := range list {
		st.X, st.Y = st.X+dx, st.Y+dy
		out[i] = st
	}
	return out
}
