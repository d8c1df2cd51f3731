// Package habit makes calibration frames as people really have them, with known
// truth: read-outs whose rows alternate, coolers that were off, black levels
// taken off in the camera, samples of 12 bits in 16, offsets that wander from
// series to series, thermometers that step.
//
// Model: a sample is the offset (with its fixed pattern, and moved anew for
// every series and °C), plus electrons over the gain, rounded and cut to what
// the converter holds. Electrons are Poisson counts of dark current (Arrhenius)
// and light, plus Gaussian read noise. All names are invented.
package habit

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"time"

	"github.com/astrogo/fitsio"
)

// Camera is the truth. Electrons unless said otherwise; zero fields are habits
// that the camera does not have.
type Camera struct {
	W, H     int
	Gain     float64 // e-/ADU
	Offset   float64 // ADU
	Read     float64 // e-, sd
	Pattern  float64 // ADU, sd of the fixed offset from pixel to pixel
	PRNU     float64 // sd of the response
	Dark     float64 // e-/s at 0 °C, of the median pixel
	Doubling float64 // °C at 0 °C; 0: the same at every temperature
	Warm     float64 // e-/s at 0 °C, sd of the rate from pixel to pixel
	Hot      float64 // share of pixels of a hundred times the median rate and up
	Glow     float64 // e-/s at 0 °C at the upper right corner, falling off over a tenth of the frame
	Leak     float64 // e-/s more at the right edge than at the left, at every temperature
	Vignette float64 // light lost in the corners
	Specks   []Speck
	Colours  [4]float64 // light that the colours of a mosaic, RGGB, get; mono when zero
	Bend     float64    // share of the charge that is not read at the highest sample, in step with it

	Top       float64  // ADU, the highest sample; 65535 when 0
	Step      float64  // ADU between samples; 1 when 0
	Shaded    bool     // the camera takes off what its shaded pixels show, dark current included: Offset is left
	Alternate float64  // sd of the light of odd rows over even ones, anew for every frame
	RowNoise  float64  // ADU, sd of a level of each row, anew for every frame
	Wander    float64  // ADU, sd of the offset from series to series
	Unquiet   float64  // sd of the read noise from series to series, as a share
	Tempco    float64  // ADU/°C of the offset
	Thermo    float64  // °C, step of the thermometer; the sensor keeps within it
	Parts     float64  // samples are written as floating-point parts of this; 0: as whole numbers
	Claims    float64  // e-/ADU that the header claims; 0: it is silent
	Silent    []string // keywords that its headers lack
}

// Speck is a dust shadow: a ring of uniform depth between 0.4 and 1 of its
// radius with soft edges, or a disc.
type Speck struct {
	X, Y, Diameter float64 // px
	Depth          float64 // share of the light lost; negative: a brighter place
	Disc           bool
}

// Shot is what the frames of a series share.
type Shot struct {
	Kind     string  // IMAGETYP
	Exposure float64 // s
	SetC     float64 // °C, set; the sensor is there too unless OffC says otherwise
	OffC     float64 // °C, by how much the first frame's sensor is off
	DriftC   float64 // °C a frame, by which it moves on
	Light    float64 // e- in the middle of the frame
	Unsteady float64 // sd of the light from frame to frame, as a share
	Stars    int     // of up to a million electrons, 3 px wide, at the same places in every frame
	Shutter  float64 // s, by which the middle is open longer than the corners
	Bump     float64 // ADU more in the upper right corner, whatever the exposure
	Filter   string
	Cards    []fitsio.Card
}

// Set is a folder that frames are written to.
type Set struct {
	Camera
	Dir   string
	Moved float64 // ADU, by which the offset of the last series had wandered
	Loud  float64 // by which its read noise was more than Read, a factor

	rng     *rand.Rand
	fixed   []float64 // ADU
	rate    []float64 // e-/s at 0 °C
	respond []float64 // light relative to the middle
	clock   time.Time
	made    int
}

// New makes a copy of the camera that writes into dir.
func New(c Camera, dir string, seed uint64) *Set {
	s := &Set{Camera: c, Dir: dir, rng: rand.New(rand.NewPCG(seed, 15)), clock: time.Date(2025, 3, 1, 20, 0, 0, 0, time.UTC)}
	if s.Top == 0 {
		s.Top = math.MaxUint16
	}
	if s.Step == 0 {
		s.Step = 1
	}
	n := c.W * c.H
	s.fixed, s.rate, s.respond = make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range n {
		u, v := float64(i%c.W)/float64(c.W), float64(i/c.W)/float64(c.H)
		s.fixed[i] = c.Pattern * s.rng.NormFloat64()
		s.rate[i] = max(0, c.Dark+c.Warm*s.rng.NormFloat64()) + s.corner(c.Glow, i%c.W, i/c.W)
		if s.rng.Float64() < c.Hot {
			s.rate[i] += 100 * c.Dark * math.Pow(10, s.rng.Float64())
		}
		s.respond[i] = c.colour(i%c.W, i/c.W) * (1 + c.PRNU*s.rng.NormFloat64()) * (1 - c.Vignette*2*((u-0.5)*(u-0.5)+(v-0.5)*(v-0.5)))
	}
	var mean float64
	for _, v := range s.fixed {
		mean += v / float64(n)
	}
	for i := range s.fixed { // so that Offset is the level
		s.fixed[i] -= mean
	}
	for _, k := range c.Specks {
		s.shade(k)
	}
	return s
}

// colour is the share of the light that a pixel gets through its filter.
func (c *Camera) colour(x, y int) float64 {
	if c.Colours == [4]float64{} {
		return 1
	}
	return c.Colours[2*(y%2)+x%2]
}

// corner falls off from its height in the upper right corner over a tenth of the frame.
func (s *Set) corner(height float64, x, y int) float64 {
	if height == 0 {
		return 0
	}
	u, v := 1-float64(x)/float64(s.W), 1-float64(y)/float64(s.H)
	return height * math.Exp(-(u*u+v*v)/0.02)
}

func (s *Set) shade(k Speck) {
	edge := func(d float64) float64 { return 1 / (1 + math.Exp(-d)) }
	for i := range s.respond {
		r, radius := math.Hypot(float64(i%s.W)-k.X, float64(i/s.W)-k.Y), k.Diameter/2
		if r > radius+12 {
			continue
		}
		d := edge(radius - r)
		if !k.Disc {
			d *= edge(r - 0.4*radius)
		}
		s.respond[i] *= 1 - k.Depth*d
	}
}

const (
	boltzmann = 8.617333e-5 // eV/K
	zero      = 273.15      // K
)

// Warmer is the dark current at a temperature over the one at 0 °C (Arrhenius).
func (c *Camera) Warmer(celsius float64) float64 {
	if c.Doubling == 0 {
		return 1
	}
	ea := zero * zero * boltzmann * math.Ln2 / c.Doubling
	return math.Exp(-ea / boltzmann * (1/(celsius+zero) - 1/zero))
}

// DoublingAt is how many °C double the dark current around a temperature.
func (c *Camera) DoublingAt(celsius float64) float64 {
	t := (celsius + zero) / zero
	return c.Doubling * t * t
}

// Series writes n frames of one series and gives their paths.
func (s *Set) Series(n int, shot Shot) ([]string, error) {
	s.Moved, s.Loud = s.Wander*s.rng.NormFloat64(), 1
	if s.Unquiet > 0 {
		s.Loud += s.Unquiet * s.rng.NormFloat64()
	}
	off := s.Thermo * (s.rng.Float64() - 0.5)
	paths := make([]string, n)
	for i := range paths {
		sensor := shot.SetC + shot.OffC + shot.DriftC*float64(i) + off
		pixels := s.expose(shot, sensor, s.Moved+s.Tempco*sensor)
		s.clock = s.clock.Add(time.Minute)
		s.made++
		paths[i] = filepath.Join(s.Dir, fmt.Sprintf("%s_%03d.fits", shot.Kind, s.made))
		if err := s.write(paths[i], shot, sensor, pixels); err != nil {
			return nil, err
		}
	}
	return paths, nil
}

// expose is one frame: its samples.
func (s *Set) expose(shot Shot, sensor, moved float64) []uint16 {
	light := shot.Light * (1 + shot.Unsteady*s.rng.NormFloat64())
	odd := 1 + s.Alternate*s.rng.NormFloat64()
	warmer := s.Warmer(sensor)
	stars := s.stars(shot.Stars)
	black := 0.0 // e-
	if s.Shaded {
		black = s.Dark * warmer * shot.Exposure
	}
	pixels := make([]uint16, s.W*s.H)
	for y := range s.H {
		row, level := light, s.RowNoise*s.rng.NormFloat64()
		if y%2 == 1 {
			row *= odd
		}
		for x := range s.W {
			i := y*s.W + x
			mean := (s.rate[i]*warmer+s.Leak*(float64(x)/float64(s.W)-0.5))*shot.Exposure + row*s.respond[i]*s.open(shot, x, y)
			if stars != nil {
				mean += stars[i]
			}
			charge := Poisson(mean, s.rng)
			e := charge*(1-s.Bend*charge/(s.Gain*s.Top)) + s.Loud*s.Read*s.rng.NormFloat64()
			adu := s.Offset + s.fixed[i] + level + moved + (e-black)/s.Gain + s.corner(shot.Bump, x, y)
			pixels[i] = uint16(min(max(s.Step*math.RoundToEven(adu/s.Step), 0), s.Top))
		}
	}
	return pixels
}

// open is for which share of the exposure a place is open.
func (s *Set) open(shot Shot, x, y int) float64 {
	if shot.Shutter == 0 {
		return 1
	}
	u, v := float64(x)/float64(s.W)-0.5, float64(y)/float64(s.H)-0.5
	return 1 - shot.Shutter/shot.Exposure*2*(u*u+v*v)
}

// stars is the light of stars that the sensor sees, by pixel, nil without any; the
// faintest have a thousandth of the brightest's.
func (s *Set) stars(n int) []float64 {
	if n == 0 {
		return nil
	}
	light := make([]float64, s.W*s.H)
	rng := rand.New(rand.NewPCG(9, 9))
	for range n {
		x, y, flux := float64(s.W)*rng.Float64(), float64(s.H)*rng.Float64(), 1e6*math.Pow(1e-3, rng.Float64())
		for j := max(0, int(y)-8); j < min(s.H, int(y)+9); j++ {
			for i := max(0, int(x)-8); i < min(s.W, int(x)+9); i++ {
				r2 := (float64(i)-x)*(float64(i)-x) + (float64(j)-y)*(float64(j)-y)
				light[j*s.W+i] += flux / (2 * math.Pi * 1.69) * math.Exp(-r2/3.38)
			}
		}
	}
	return light
}

func (s *Set) write(path string, shot Shot, sensor float64, pixels []uint16) error {
	if s.Thermo > 0 {
		sensor = s.Thermo * math.Round(sensor/s.Thermo)
	}
	if s.Parts > 0 {
		parts := make([]float32, len(pixels))
		for i, v := range pixels {
			parts[i] = float32(float64(v) / s.Parts)
		}
		return s.save(path, -32, &parts, shot, sensor)
	}
	signed := make([]int16, len(pixels))
	for i, v := range pixels {
		signed[i] = int16(v ^ 0x8000) // v - 32768 in two's complement
	}
	return s.save(path, 16, &signed, shot, sensor, fitsio.Card{Name: "BZERO", Value: 32768}, fitsio.Card{Name: "BSCALE", Value: 1})
}

// Master writes a frame of floating-point samples, as programs that combine
// frames do.
func (s *Set) Master(name string, pixels []float32, shot Shot) (string, error) {
	path := filepath.Join(s.Dir, name)
	return path, s.save(path, -32, &pixels, shot, shot.SetC)
}

func (s *Set) save(path string, bitpix int, pixels any, shot Shot, sensor float64, scaling ...fitsio.Card) error {
	w, err := os.Create(path)
	if err != nil {
		return err
	}
	defer w.Close()
	f, err := fitsio.Create(w)
	if err != nil {
		return err
	}
	defer f.Close()
	img := fitsio.NewImage(bitpix, []int{s.W, s.H})
	defer img.Close()
	for _, c := range append(append(scaling, s.cards(shot, sensor)...), shot.Cards...) {
		if s.silent(c.Name) {
			continue
		}
		if err := img.Header().Append(c); err != nil {
			return err
		}
	}
	if err := img.Write(pixels); err != nil {
		return err
	}
	if err := f.Write(img); err != nil {
		return err
	}
	return w.Close()
}

func (s *Set) cards(shot Shot, sensor float64) []fitsio.Card {
	cards := []fitsio.Card{
		{Name: "IMAGETYP", Value: shot.Kind},
		{Name: "DATE-OBS", Value: s.clock.Format("2006-01-02T15:04:05.000")},
		{Name: "EXPTIME", Value: shot.Exposure},
		{Name: "INSTRUME", Value: "Invented Mono 1"},
		{Name: "GAIN", Value: 100}, {Name: "OFFSET", Value: 30},
		{Name: "SET-TEMP", Value: shot.SetC}, {Name: "CCD-TEMP", Value: sensor},
	}
	if s.Claims > 0 {
		cards = append(cards, fitsio.Card{Name: "EGAIN", Value: s.Claims})
	}
	if s.Colours != [4]float64{} {
		cards = append(cards, fitsio.Card{Name: "BAYERPAT", Value: "RGGB"})
	}
	if shot.Filter != "" {
		cards = append(cards, fitsio.Card{Name: "FILTER", Value: shot.Filter})
	}
	return cards
}

func (s *Set) silent(name string) bool {
	for _, n := range s.Silent {
		if n == name {
			return true
		}
	}
	return false
}
