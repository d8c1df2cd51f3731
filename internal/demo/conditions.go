package demo

import (
	"math"
	"math/rand/v2"
	"time"

	"fitsqa/internal/sky"
)

// conditions fills all that time, sky and telescope do to sub i.
func (s *scene) conditions(sc Scenario, cam Camera, i int, seeing float64, rng *rand.Rand) {
	middle := s.Start.Add(time.Duration(s.Exposure / 2 * float64(time.Second)))
	c := sky.At(&site, middle, s.ra, s.dec)
	s.SunAlt, s.MoonAlt, s.Airmass = c.SunAlt.V, c.MoonAlt.V, c.Airmass.V
	s.ambient = 9 - coolingPerHour*s.Start.Sub(sc.Start).Hours()
	s.flipped = sc.Flip > 0 && i >= sc.Flip

	// Every sub draws the same number of deviates whatever happens to it, so
	// that a change to one event leaves all else as it was.
	dither := [2]float64{sc.DitherPx * (2*rng.Float64() - 1), sc.DitherPx * (2*rng.Float64() - 1)}
	guide := 0.025 * math.Abs(rng.NormFloat64())
	sin2, cos2 := math.Sincos(2 * math.Pi * rng.Float64())
	s.guiding = [2]float64{guide * cos2, guide * sin2}
	for k := range s.cloud.waves {
		s.cloud.waves[k] = [3]float64{0.5 * rng.NormFloat64(), 0.5 * rng.NormFloat64(), 2 * math.Pi * rng.Float64()}
	}
	gust, turn := 0.8+0.4*rng.Float64(), 6*(rng.Float64()-0.5)
	track := rng.Float64()

	hours := s.Start.Sub(sc.Start).Hours()
	s.ShiftX, s.ShiftY = dither[0]+sc.Mount[0]*hours, dither[1]+sc.Mount[1]*hours
	if s.flipped {
		s.Rotation = 180 + flipTurn + sc.FlipTurn
		s.ShiftX, s.ShiftY = s.ShiftX+flipShiftX, s.ShiftY+flipShiftY
	}
	if s.Rotation > 180 {
		s.Rotation -= 360
	}

	s.meetClouds(sc, i)
	s.spikes = sc.Spikes
	s.trouble(sc, i)
	s.Even = s.cloud.uneven == 0
	through, uneven := s.through()
	s.Clearness, s.Uneven = through*math.Pow(10, -0.4*s.dew), uneven
	s.Transmission = math.Pow(10, -0.4*s.band.extinction*s.Airmass) * s.Clearness
	s.ZeroPoint = 2.5 * math.Log10(s.band.zero*s.Transmission)
	s.clearSky = s.band.skyRate(sky.MagFromNL(sky.NLFromMag(sc.SkyMag)+twilightNL(c.SunAlt.V)+moonNL(c)), cam.scale())

	s.blur(sc, cam, i, seeing, gust, turn)

	for _, n := range sc.Streaks {
		if n == i {
			y0, y1 := float64(sc.Height)*(0.1+0.3*track), float64(sc.Height)*(0.5+0.45*track)
			s.streak = append(s.streak, [4]float64{-1, y0, float64(sc.Width), y1})
		}
	}
	s.Streaks = len(s.streak)
}

// blur gives sub i its stars' shape: seeing, focus, and trails as long and turned as
// gust and turn make them.
func (s *scene) blur(sc Scenario, cam Camera, i int, seeing, gust, turn float64) {
	length, angle := 0.0, 0.0
	for _, tr := range sc.Trails {
		if _, in := tr.fraction(i); in {
			if sc.Turn > 0 {
				turn *= sc.Turn / 3
			}
			length, angle = tr.Length*gust, tr.Angle+turn
		}
	}
	s.TrailPx = length
	// Seeing grows with airmass to the power 0.6 (Kolmogorov turbulence, Fried 1966; from memory).
	fwhm := sc.Seeing / cam.scale() * math.Exp(seeing) * math.Pow(s.Airmass, 0.6)
	s.psf = newPSF(fwhm, s.BlurArcsec/cam.scale(), length, angle)
	s.FWHM, s.FWHMPixel = s.psf.fwhm, s.psf.fwhmPixel
}

func (s *scene) meetClouds(sc Scenario, i int) {
	for _, cl := range sc.Clouds {
		if f, in := cl.fraction(i); in {
			depth := cl.Magnitudes
			switch {
			case cl.Thickens:
				depth *= f
			case !cl.Flat:
				depth *= math.Sin(math.Pi * (0.1 + 0.8*f))
			}
			s.cloud.magnitudes, s.cloud.uneven, s.cloud.glow, s.cloud.halo = depth, cl.Uneven, cl.Glow, cl.Halo
			s.Thickens = cl.Thickens && cl.Last == sc.subs()-1
		}
	}
}

// moonNL is the moonlight of the sky package, whose model stops dimming the
// Moon near the horizon; here it rises from nothing, through as many airmasses
// as there are.
func moonNL(c sky.Conditions) float64 {
	if c.MoonAlt.V <= 0 {
		return 0
	}
	cos := math.Cos(c.MoonAlt.V * math.Pi / 180)
	model := 1 / math.Sqrt(1-0.96*cos*cos) // Krisciunas and Schaefer 1991, eq 3
	excess := max(0, sky.Airmass(c.MoonAlt.V)-model)
	return c.MoonlightNL.V * math.Pow(10, -0.4*sky.Extinction*excess)
}

// twilightNL is what the Sun below the horizon adds: as bright as a dark sky
// (79 nL) at -17°, 0.8 mag more for every degree up. Common practice, no
// source; good to half a magnitude between -18° and -9°, where subs are shot.
func twilightNL(sunAlt float64) float64 {
	if sunAlt < -18.5 {
		return 0
	}
	return 79 * math.Pow(10, 0.4*0.8*(sunAlt+17))
}
