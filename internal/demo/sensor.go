package demo

import (
	"math"
	"sort"

	"fitsqa/internal/stats"
)

// Camera is the invented camera, as its maker would never publish it.
type Camera struct {
	Name            string  `json:"name"`
	PixelUM         float64 `json:"pixel_um"`
	FocalMM         float64 `json:"focal_length_mm"` // of the telescope before it
	ApertureMM      float64 `json:"aperture_mm"`
	Gain            float64 `json:"gain_e_per_adu"`
	HeaderGain      float64 `json:"header_gain_e_per_adu"` // what the header claims
	OffsetADU       float64 `json:"offset_adu"`
	ReadNoiseE      float64 `json:"read_noise_e"`            // of an ordinary pixel, without the converter's rounding
	TemporalNoiseE  float64 `json:"temporal_noise_e"`        // the same with the row noise: what differs from frame to frame
	NoisyFraction   float64 `json:"noisy_pixel_fraction"`    // of pixels whose read noise is NoisyFactor times larger
	NoisyFactor     float64 `json:"noisy_factor"`            //
	RowNoiseADU     float64 `json:"row_noise_adu"`           // sd of a level that every row of every frame has of its own
	ColumnADU       float64 `json:"column_pattern_adu"`      // sd of the fixed offsets of columns
	PixelPatternADU float64 `json:"pixel_pattern_adu"`       // sd of the fixed offsets of pixels
	StepADU         int     `json:"sample_step_adu"`         // a 14-bit converter in 16-bit files: 4
	SaturationADU   float64 `json:"saturation_adu"`          // the converter's largest code
	FullWellE       float64 `json:"full_well_e"`             // where the converter clips, above the offset
	Dark0           float64 `json:"dark_current_0c_e_per_s"` // of the median pixel at 0 °C
	ActivationEV    float64 `json:"dark_activation_ev"`      // Arrhenius, the same for all pixels
	DarkSpread      float64 `json:"dark_spread"`             // sd of the dark rate among ordinary pixels, as a fraction
	HotFraction     float64 `json:"hot_fraction"`            // of pixels
	HotMin          float64 `json:"hot_min_e_per_s"`         // dark rate of hot pixels at -10 °C, above the median
	HotMax          float64 `json:"hot_max_e_per_s"`         //
	GlowE           float64 `json:"glow_corner_e_per_s"`     // light of the read-out electronics at the corner (0, height-1)
	GlowPx          float64 `json:"glow_scale_px"`           //
	PRNU            float64 `json:"prnu"`                    // sd of the sensitivity of pixels, as a fraction
	HitsPerCM2S     float64 `json:"particle_hits_per_cm2_s"` //
	GainSetting     int     `json:"gain_setting"`            //
	OffsetSetting   int     `json:"offset_setting"`          //
}

// lumen is the camera of every night. Its 14-bit converter writes every fourth
// level of a 16-bit file; one converter step is 1.56 e-, 0.7 times the read
// noise, so that the rounding is small and can be taken off in quadrature.
var lumen = Camera{
	Name: "Lumen M16", PixelUM: 3.76, FocalMM: focalLength, ApertureMM: aperture,
	Gain: 0.391, HeaderGain: 0.4, OffsetADU: 501.3,
	ReadNoiseE: 2.2, TemporalNoiseE: math.Hypot(2.2, 0.4*0.391), NoisyFraction: 0.0005, NoisyFactor: 3,
	RowNoiseADU: 0.4, ColumnADU: 0.8, PixelPatternADU: 0.6,
	StepADU: 4, SaturationADU: 65532, FullWellE: (65532 - 501.3) * 0.391,
	Dark0: 0.035, ActivationEV: 0.65, DarkSpread: 0.12,
	HotFraction: 0.0015, HotMin: 0.2, HotMax: 15,
	GlowE: 0.015, GlowPx: 60, PRNU: 0.006, HitsPerCM2S: 0.03,
	GainSetting: 100, OffsetSetting: 50,
}

const (
	boltzmannEV = 8.617333e-5 // eV/K
	zeroC       = 273.15      // K
)

// darkFactor is the dark rate at a temperature over the one at 0 °C,
// Arrhenius' law: exp(-Ea/k (1/T - 1/T0)).
func (c Camera) darkFactor(tempC float64) float64 {
	return math.Exp(-c.ActivationEV / boltzmannEV * (1/(tempC+zeroC) - 1/zeroC))
}

// DoublingC is how many °C double the dark rate around a temperature:
// Td = T² k ln 2 / Ea.
func (c Camera) DoublingC(tempC float64) float64 {
	t := tempC + zeroC
	return t * t * boltzmannEV * math.Ln2 / c.ActivationEV
}

// HotPixel is a pixel whose dark rate stands far above the others.
type HotPixel struct {
	X    int     `json:"x"`
	Y    int     `json:"y"`
	Rate float64 `json:"e_per_s"` // at -10 °C, above the median
}

// sensor is one copy of a camera with all its pixels.
type sensor struct {
	Camera
	w, h   int
	offset []float32 // ADU
	dark   []float32 // e-/s at 0 °C
	gain   []float32 // relative sensitivity, mean 1
	noisy  []bool
	shine  []float64  // e-/s, the light of the read-out electronics
	hot    []HotPixel // by row, then column
	bayer  string     // colour mosaic, "" for none
}

func newSensor(c Camera, w, h int, seed uint64) *sensor {
	s := &sensor{Camera: c, w: w, h: h}
	n := w * h
	s.offset, s.dark, s.gain = make([]float32, n), make([]float32, n), make([]float32, n)
	s.noisy, s.shine = make([]bool, n), make([]float64, n)

	rng := source(seed, "sensor")
	column := make([]float64, w)
	for x := range column {
		column[x] = c.ColumnADU * rng.NormFloat64()
	}
	for y := range h {
		for x := range w {
			i := y*w + x
			s.offset[i] = float32(c.OffsetADU + column[x] + c.PixelPatternADU*rng.NormFloat64())
			s.dark[i] = float32(c.Dark0 * max(0, 1+c.DarkSpread*rng.NormFloat64()))
			s.gain[i] = float32(1 + c.PRNU*rng.NormFloat64())
			s.shine[i] = s.glow(x, y)
		}
	}
	centre(s.offset, c.OffsetADU)

	cold := c.darkFactor(-10)
	for range int(c.HotFraction * float64(n)) {
		i := rng.IntN(n)
		// Rates fall off as a power law: the logarithm is skewed to the faint end.
		rate := c.HotMin * math.Pow(c.HotMax/c.HotMin, math.Pow(rng.Float64(), 2))
		if s.dark[i] > float32(10*c.Dark0) {
			continue // hot already
		}
		s.dark[i] += float32(rate / cold)
		s.hot = append(s.hot, HotPixel{X: i % w, Y: i / w, Rate: rate})
	}
	sort.Slice(s.hot, func(a, b int) bool {
		p, q := s.hot[a], s.hot[b]
		return p.Y < q.Y || p.Y == q.Y && p.X < q.X
	})
	for range int(c.NoisyFraction * float64(n)) {
		s.noisy[rng.IntN(n)] = true
	}
	return s
}

// centre shifts the map so that its mean is the wanted one exactly.
func centre(m []float32, mean float64) {
	d := float32(mean - stats.Mean(m))
	for i := range m {
		m[i] += d
	}
}

func (s *sensor) darkRate(tempC float64) DarkRate {
	rates := make([]float64, len(s.dark))
	for i := range rates {
		rates[i] = float64(s.dark[i])*s.darkFactor(tempC) + s.shine[i]
	}
	return DarkRate{TempC: tempC, Median: stats.MedianInPlace(rates), Mean: stats.Mean(rates), DoublingC: s.DoublingC(tempC)}
}

// glow is the light of the read-out electronics at a pixel, e-/s.
func (s *sensor) glow(x, y int) float64 {
	dx, dy := float64(x), float64(s.h-1-y)
	r2 := (dx*dx + dy*dy) / (s.GlowPx * s.GlowPx)
	if r2 > 40 {
		return 0
	}
	return s.GlowE * math.Exp(-r2/2)
}
