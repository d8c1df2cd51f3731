package worth

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stats"
)

// Caveat is a code for what the answer rests on where not all was measured.
type Caveat string

// The caveats there are.
const (
	SkyWithDark   Caveat = "sky_with_dark"   // the sky holds the dark current: it is not known apart
	DarkFromNoise Caveat = "dark_from_noise" // dark current by the darks' noise, where their level tells none
	DarkNotMoved  Caveat = "dark_not_moved"  // dark signal as measured at another temperature
	DarkCarried   Caveat = "dark_carried"    // dark current carried to the subs' temperature by the usual doubling
	FromSubs      Caveat = "from_subs"       // no darks: the pattern by what halves of the subs have in common
	FromLedger    Caveat = "from_ledger"     // the same by darks of an earlier night
	PatternLimit  Caveat = "pattern_limit"   // and that is an upper limit
	GlowUnknown   Caveat = "glow_unknown"    // no darks: a glow cannot be separated from the sky
	GlowScaled    Caveat = "glow_scaled"     // by darks of another exposure, in step with it
	DitherUnknown Caveat = "dither_unknown"  // taken as none
)

// sensor gathers the camera's figures from the darks, or says which is lacking.
func (in Input) sensor() (s figures, caveats []Caveat, lacks fact.Fact) {
	if lacks := in.lacking(); lacks.Code != "" {
		return s, nil, lacks
	}
	sets := in.darkSets()
	s = in.lightAndReadOut()
	s.spread = in.DarkSpread
	best := in.best(sets)
	astray := in.astray(best)
	if best == nil || astray && in.Found != nil && in.Found.Pattern.OK() {
		return in.seenSensor(s)
	}
	own := best.Dark.Current
	warmer, doubt := in.warmer(best)
	switch {
	case own.OK() && in.DarkRate.OK():
		s.dark = max(in.DarkRate.V, 0)
	case own.OK():
		s.dark = max(own.V, 0) * warmer
	default:
		s.dark = in.darkByNoise(best) * warmer
		caveats = append(caveats, DarkFromNoise)
	}
	switch {
	case astray || own.OK() && in.DarkRate.OK() && in.DarkCarried:
		caveats = append(caveats, DarkCarried)
	case own.OK() && !in.DarkRate.OK():
		caveats = append(caveats, DarkNotMoved)
	}
	if in.SkyAndDark && own.OK() {
		// The sky was measured with the dark current in it.
		s.sky = max(s.sky-s.dark, 0)
	}
	s.pattern, s.patternErr = in.pattern(best)
	s.pattern, s.patternErr = s.pattern*warmer, math.Hypot(s.patternErr, s.pattern*doubt)*warmer
	if d := best.Dark; d != nil && d.RateUnit == "e-/s" {
		for _, h := range d.HotRates {
			s.hot = append(s.hot, rate{h.Above * warmer, float64(h.N)})
		}
		s.hot = classed(s.hot, saturatedFrom*s.full/in.Exposure)
	}
	s.pixels = float64(best.Group.Width * best.Group.Height)
	s.glow = glowAt(sets, in.TempC, in.Exposure)
	if s.glow.rate == 0 { // whose noise is that of one place
		s.dark = max(s.dark, shotDark(best, warmer))
	}
	return s, caveats, fact.Fact{}
}

// nearC is over how many °C the usual doubling carries a dark current that is taken for
// known: as far as one doubling.
const nearC = 6

// astray tells that darks are so much warmer or colder than the subs that nothing known
// carries their dark current there.
func (in Input) astray(darks *sensor.Set) bool {
	return darks != nil && !in.DarkRate.OK() && math.Abs(sensor.TemperatureOf(darks.Group)-in.TempC) > nearC
}

// warmer is how many times the dark current of a set is that of the subs, and the relative
// error of a usual doubling that carries it far.
func (in Input) warmer(darks *sensor.Set) (times, doubt float64) {
	own := darks.Dark.Current
	switch {
	case in.astray(darks):
		ev := sensor.UsualActivation(in.TempC)
		lever := sensor.InverseKT(sensor.TemperatureOf(darks.Group)) - sensor.InverseKT(in.TempC)
		return math.Exp(ev.V * lever), math.Abs(ev.Err * lever)
	case own.OK() && own.V > 0 && in.DarkRate.OK() && in.DarkRate.V > 0:
		return in.DarkRate.V / own.V, 0
	}
	return 1, 0
}

// shotDark is the dark current that the noise tells where it is surely more than that of the
// median pixel, else 0: warm pixels, though not hot, make noise for all.
func shotDark(best *sensor.Set, warmer float64) float64 {
	noise, level := best.Dark.CurrentByNoise, best.Dark.Current
	if !noise.OK() || !level.OK() || noise.V-level.V < 3*math.Hypot(noise.KnownErr(), level.KnownErr()) {
		return 0
	}
	return noise.V * warmer
}

// seenSensor is what subs without darks of their temperature tell, and what darks of an
// earlier night did.
func (in Input) seenSensor(s figures) (figures, []Caveat, fact.Fact) {
	f, seen := in.Found, in.Found != nil && !math.IsNaN(in.Found.AtMost)
	switch {
	case in.Earlier != nil || seen:
	case f == nil && in.MasterTaken:
		return s, nil, fact.Of(MasterHides)
	case f == nil:
		return s, nil, fact.Of(NoDarks)
	default:
		return s, nil, because(SubsSilent, f.Pattern)
	}
	var caveats []Caveat
	if seen {
		caveats = append(caveats, FromSubs)
	}
	if in.DarkRate.OK() {
		s.dark = max(in.DarkRate.V, 0)
	} else {
		caveats = append(caveats, SkyWithDark)
	}
	t := in.Exposure
	if seen {
		s.seenIn(f, t)
	}
	switch e := in.Earlier; {
	case seen && f.Pattern.OK():
	case e != nil:
		s.pattern, s.patternErr = max(e.Pattern.V, 0), e.Pattern.KnownErr()
		caveats = append(caveats, FromLedger)
	default:
		s.patternErr = f.AtMost / t
		caveats = append(caveats, PatternLimit)
	}
	switch e := in.Earlier; {
	case seen && f.Glow.Height.OK():
	case e != nil && e.Glow.OK():
		s.glow.rate, s.glow.err, s.glow.area = e.Glow.V/t, e.Glow.KnownErr()/t, max(s.glow.area, earlierGlow)
	case e != nil: // they showed none
	case len(in.darkSets()) > 0: // of another temperature
		s.glow = glowAt(in.darkSets(), in.TempC, t)
	case 100*f.Glow.AtMost >= glowOfSkyPct*s.sky*t:
		s.glow.err = f.Glow.AtMost / t
		caveats = append(caveats, GlowUnknown)
	}
	return s, caveats, fact.Fact{}
}

// earlierGlow is the area of a glow of which the ledger holds the height alone, px: a few
// cells of the map in which darks show one.
const earlierGlow = 4096

// seenIn takes over what subs of t seconds surely tell.
func (s *figures) seenIn(f *Found, t float64) {
	if f.Pattern.OK() {
		s.pattern, s.patternErr = f.Pattern.V/t, f.Pattern.KnownErr()/t
	}
	for _, e := range f.Hot {
		s.hot = append(s.hot, rate{e / t, 1 / f.Part})
	}
	s.hot = classed(s.hot, saturatedFrom*s.full/t)
	s.pixels = f.Pixels
	s.glow.area, s.glow.place = f.Glow.Area, f.Glow.Place
	if f.Glow.Height.OK() {
		s.glow.rate, s.glow.err = f.Glow.Height.V/t, f.Glow.Height.Err/t
	}
}

// lightAndReadOut are sky, read noise and offset pattern.
func (in Input) lightAndReadOut() figures {
	s := figures{sky: max(in.SkyRate.V, 0), read: in.ReadNoise.V, full: math.Inf(1), chances: chances{}}
	if in.Bias == nil || !in.Gain.OK() {
		return s
	}
	b := in.Bias.Bias
	quiet, rms := b.PixelNoiseMedian, b.PixelNoiseRMS
	s.offset = max(b.FixedPattern.Value.Or(0), 0) * in.Gain.V
	if rms.OK() && quiet.OK() {
		// Noise of the stack is that of all its pixels, jumping ones too. Those
		// that jump between two levels, each for half the time, lie off the
		// others in the mean by as much as they scatter.
		s.read = max(s.read, rms.V*in.Gain.V)
		s.offset = math.Hypot(s.offset, math.Sqrt(max(rms.V*rms.V-quiet.V*quiet.V, 0))*in.Gain.V)
	}
	s.read = math.Hypot(s.read, in.rounding())
	if offset := b.Offset; offset.OK() && in.Saturation > offset.V {
		s.full = (in.Saturation - offset.V) * in.Gain.V
	}
	return s
}

// rounding is the noise of rounding to whole steps, e-: it is in every frame, though
// it is none of the sensor's.
func (in Input) rounding() float64 {
	analogue := in.Bias.Bias.ReadNoiseADU
	if !in.Bias.Bias.RawNoise.OK() || !analogue.OK() {
		return 0
	}
	raw := in.Bias.Bias.RawNoise.V
	return math.Sqrt(max(raw*raw-analogue.V*analogue.V, 0)) * in.Gain.V
}

// darkByNoise is the dark current that makes the darks noisier than the bias,
// e-/s: a camera that sets its black level by covered pixels hides it from the
// level, not from the noise.
func (in Input) darkByNoise(dark *sensor.Set) float64 {
	if in.Bias == nil || !in.Gain.OK() {
		return 0
	}
	d, b := dark.Dark.Noise, in.Bias.Bias.RawNoise
	if !d.OK() || !b.OK() || !(dark.Group.Exposure > 0) {
		return 0
	}
	return max(d.V*d.V-b.V*b.V, 0) * in.Gain.V * in.Gain.V / dark.Group.Exposure
}

func (in Input) darkSets() []*sensor.Set {
	var sets []*sensor.Set
	for _, s := range in.Sets {
		if s.Kind == sensor.KindDark && s.Measured && s.Group != nil && s.Group.Exposure > 0 && sensor.ModeOf(s.Group).Same(in.Camera) &&
			!math.IsNaN(s.Dark.Uneven) {
			sets = append(sets, s)
		}
	}
	return sets
}

// carryError is by how much a dark signal carried over one degree is uncertain
// (own estimate: a doubling every 6 °C that is known to a fifth).
const carryError = 0.02

func (in Input) best(sets []*sensor.Set) *sensor.Set {
	var best *sensor.Set
	least := math.Inf(1)
	for _, s := range sets {
		p, err := in.pattern(s)
		off := stats.OrZero(math.Abs(sensor.TemperatureOf(s.Group) - in.TempC))
		if e := math.Hypot(err/max(p, err, 1e-9), carryError*off); e < least {
			best, least = s, e
		}
	}
	return best
}

// pattern is how much the dark current of a set differs from pixel to pixel,
// e-/s; none, and its limit for error, where it is hidden in the master's noise.
func (in Input) pattern(s *sensor.Set) (rate, err float64) {
	if p := s.Dark.Nonuniformity; p.OK() {
		return max(p.V, 0), p.KnownErr()
	}
	return 0, s.Dark.Uneven * in.Gain.Or(math.NaN()) / s.Group.Exposure
}

// classWidth is the ratio of neighbouring classes of hot pixels: what stays in
// the stack follows from the rate to a few percent.
const classWidth = 1.05

// classed puts hot pixels, by rate ascending, into classes of about the same rate. Those
// from the rate on at which pixels saturate are a class of their own.
func classed(hot []rate, full float64) []rate {
	var classes []rate
	first := 0.0 // of the class
	for _, h := range hot {
		if last := len(classes) - 1; last >= 0 && (h.above < classWidth*first && !(first < full && h.above >= full) || first >= full) {
			c := &classes[last]
			c.above, c.n = (c.above*c.n+h.above*h.n)/(c.n+h.n), c.n+h.n
			continue
		}
		classes, first = append(classes, h), h.above
	}
	return classes
}
