package night

import (
	"math"

	"fitsqa/internal/dust"
	"fitsqa/internal/frames"
)

// matchDust asks the subs of every group whether the dust in the flat that
// corrected them lies where they have it.
func (r *Result) matchDust() {
	of := map[*frames.Frame]*Sub{}
	for _, s := range r.Subs {
		of[s.Frame] = s
	}
	for _, c := range r.Calib.Coverage {
		calibration := r.Calib.For(c.Lights)
		if !calibration.Flattened || !calibration.HasOffset {
			continue
		}
		in := dust.Input{Lights: c.Lights}
		flat := r.Calib.FlatSetFor(c.Lights)
		if flat != nil {
			in.Flat, in.Picture, in.Shadows = flat.Label, flat.Flat.Master, flat.Flat.Shadows
			in.FlatNoise = 1 / flat.Flat.SNR.V
		}
		for _, f := range c.Lights.Frames {
			if s := of[f]; s != nil && s.Field != nil && s.HasPicture() && s.Verdict.Usable() {
				in.Subs = append(in.Subs, s.dust())
			}
		}
		match := dust.Compare(in)
		r.Dust = append(r.Dust, match)
		if flat != nil {
			flat.NoteDust(match)
		}
	}
}

// dust is what a sub's background tells of dust.
func (s *Sub) dust() dust.Sub {
	shape := s.picture.shapeOf()
	d := dust.Sub{Width: shape.Width, Height: shape.Height, Step: shape.Step, Preview: s.Preview, Noise: s.NoiseADU.V / s.SkyADU.V}
	if s.Align.Matched() {
		d.ToSky, d.FromSky = s.Align.Transform.Apply, s.Align.Transform.Inverse().Apply
	}
	fwhm := s.Field.FWHM.V
	if math.IsNaN(fwhm) {
		fwhm = s.Field.HFD.V
	}
	if math.IsNaN(fwhm) {
		return d
	}
	for _, st := range s.Field.Stars {
		d.Stars = append(d.Stars, dust.Spot{X: st.X, Y: st.Y, Radius: starReach(st.Peak/s.SkyADU.V, fwhm)})
	}
	return d
}

// starReach is how far from its middle a star is brighter than one percent of
// the sky: of a Moffat profile of exponent 3, near what seeing gives (Trujillo
// et al. 2001: 2.5 to 4.8), (1 + (r/g)²)^-3 times its peak.
func starReach(peak, fwhm float64) float64 {
	g := fwhm / (2 * math.Sqrt(math.Cbrt(2)-1))
	return max(fwhm/2, g*math.Sqrt(max(0, math.Cbrt(max(0, peak)/0.01)-1)))
}
