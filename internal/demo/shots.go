package demo

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"time"

	"fitsqa/internal/sky"
)

// The observing site of every night: open ocean, so that it names no place.
var site = sky.Site{Lat: 41, Lon: -38, Elevation: 10}

const (
	overhead     = 6 * time.Second   // read-out and dither between subs
	filterChange = 12 * time.Second  //
	flipPause    = 240 * time.Second // flip, centring, guiding again
	flipTurn     = 0.3               // degrees off half a turn: the mount is not quite aligned
	flipShiftX   = 14                // px
	flipShiftY   = -8                // px

	coolingPerHour = 1.6 // °C that the air loses
)

// shot is one sub to be rendered: its truth and what the truth does not say.
type shot struct {
	Sub
	field    *field
	band     band
	psf      *psf
	guiding  [2]float64 // ellipticity vector that guiding adds, e cos 2θ and e sin 2θ
	cloud    cloudState
	clearSky float64 // e-/s at the centre without cloud and nebula
	ambient  float64 // °C
	flipped  bool
	ra, dec  float64
	streak   [][4]float64 // from x, y to x, y
	double   Double
	cover    cover
	dew      float64 // mag that stars lose into halos
	fineDew  bool    // that are wider than the field
	spikes   *Spikes
	sensorC  float64 // °C
	setC     float64 // °C that the header tells, NaN for none
}

// cloudState is the cloud in front of the field during one sub.
type cloudState struct {
	magnitudes, uneven, glow float64
	halo                     float64       // share of the lost light that stands around the stars
	waves                    [3][3]float64 // wave numbers along x and y in periods per frame, phase
}

// extinction is the cloud's at a point in fractions of the frame, mag.
func (c cloudState) extinction(u, v float64) float64 {
	if c.magnitudes == 0 {
		return 0
	}
	var sum float64
	for _, w := range c.waves {
		sum += math.Sin(2*math.Pi*(w[0]*u+w[1]*v) + w[2])
	}
	return c.magnitudes * max(0, 1+c.uneven*sum)
}

// shots plans every sub of a night.
func shots(sc Scenario, cam Camera) []*shot {
	fields := make([]*field, len(sc.Targets))
	for i, t := range sc.Targets {
		fields[i] = newField(sc, cam, t)
	}
	rng := source(sc.Seed, "shots")
	var list []*shot
	seeing := 0.0 // logarithm of FWHM over the median, wanders
	counts := map[string]int{}
	starts, blurs := startTimes(sc), blurs(sc)
	for _, b := range sc.Blocks {
		for range b.Subs {
			i := len(list)
			t := sc.Targets[b.Target]
			s := &shot{field: fields[b.Target], band: bands[b.Filter].through(cam), ra: t.RA, dec: t.Dec}
			s.Target, s.Filter, s.Exposure, s.Start = t.Name, b.Filter, b.Exposure, starts[i]
			key := fileStem(t.Name, b.Filter, b.Exposure)
			counts[key]++
			s.File = fmt.Sprintf("lights/%s/%s_%03d.fits", b.Filter, key, counts[key])
			s.BlurArcsec = blurs[i]
			seeing = 0.8*seeing + 0.02*rng.NormFloat64()
			s.conditions(sc, cam, i, seeing, rng)
			s.survey(sc, cam)
			list = append(list, s)
		}
	}
	return list
}

// startTimes is when each sub begins.
func startTimes(sc Scenario) []time.Time {
	var starts []time.Time
	now := sc.Start
	for bi, b := range sc.Blocks {
		if bi > 0 {
			now = now.Add(filterChange)
		}
		for range b.Subs {
			if sc.Flip > 0 && len(starts) == sc.Flip {
				now = now.Add(flipPause)
			}
			starts = append(starts, now)
			now = now.Add(time.Duration(b.Exposure*float64(time.Second)) + overhead)
		}
	}
	return starts
}

// blurs are the diameters of each sub's disc out of focus, arcsec.
func blurs(sc Scenario) []float64 {
	middles := startTimes(sc)
	i := 0
	for _, b := range sc.Blocks {
		for range b.Subs {
			middles[i] = middles[i].Add(time.Duration(b.Exposure / 2 * float64(time.Second)))
			i++
		}
	}
	blur := make([]float64, len(middles))
	for _, d := range sc.Drifts {
		whole := middles[d.Last].Sub(middles[d.First])
		for i := d.First; i <= d.Last; i++ {
			if blur[i] = d.Blur; whole > 0 {
				blur[i] *= middles[i].Sub(middles[d.First]).Seconds() / whole.Seconds()
			}
		}
	}
	return blur
}

func fileStem(target, filter string, exposure float64) string {
	return fmt.Sprintf("%s_%s_%gs", strings.ReplaceAll(target, " ", "_"), filter, exposure)
}

// conditions fills all that time, sky and telescope do to sub i.
func (s *shot) conditions(sc Scenario, cam Camera, i int, seeing float64, rng *rand.Rand) {
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
	s.Clearness = s.meanThrough() * math.Pow(10, -0.4*s.dew)
	s.Transmission = math.Pow(10, -0.4*s.band.extinction*s.Airmass) * s.Clearness
	s.ZeroPoint = 2.5 * math.Log10(s.band.zero*s.Transmission)
	s.clearSky = s.band.skyRate(sky.MagFromNL(skyNL(sc, c)), cam.scale())

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

	for _, n := range sc.Streaks {
		if n == i {
			y0, y1 := float64(sc.Height)*(0.1+0.3*track), float64(sc.Height)*(0.5+0.45*track)
			s.streak = append(s.streak, [4]float64{-1, y0, float64(sc.Width), y1})
		}
	}
	s.Streaks = len(s.streak)
}

// meetClouds puts the clouds of the scenario before sub i.
func (s *shot) meetClouds(sc Scenario, i int) {
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
		}
	}
}

// meanThrough is the cloud's transmission averaged over the field.
func (s *shot) meanThrough() float64 {
	if s.cloud.magnitudes == 0 {
		return 1
	}
	const n = 24
	var sum float64
	for j := range n {
		for i := range n {
			sum += math.Pow(10, -0.4*s.cloud.extinction((float64(i)+0.5)/n, (float64(j)+0.5)/n))
		}
	}
	return sum / (n * n)
}

// skyFactor is the sky at a point in fractions of the frame over the clear sky
// at the centre: light pollution is brighter towards one side, and clouds
// reflect it the more the more opaque they are.
func (s *shot) skyFactor(u, v float64) float64 {
	slope := 0.06*(u-0.5) + 0.04*(v-0.5)
	if s.flipped {
		slope = -slope
	}
	seen := 1.0
	if !s.cover.frost {
		seen -= (1 - skyLeft) * s.cover.opacity(u, v)
	}
	return seen * (1 + slope) * (1 + s.cloud.glow*(1-math.Pow(10, -0.4*s.cloud.extinction(u, v))))
}

// skyNL is the sky's brightness in nanolamberts: the site's own, twilight and moonlight.
func skyNL(sc Scenario, c sky.Conditions) float64 {
	return sky.NLFromMag(sc.SkyMag) + twilightNL(c.SunAlt.V) + moonNL(c)
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
