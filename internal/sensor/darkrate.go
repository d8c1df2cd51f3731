package sensor

import (
	"cmp"
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// Dark current is that of the median pixel: the slope of the level against the
// exposure, through the darks of one temperature and the bias as one point more,
// at zero exposure. Where the darks' own line does not meet the bias, the bias
// is left out. It is carried by three errors: of the levels as measured, of the
// offset, which wanders from series to series, and of the temperature, which
// thermometers give in steps.
//
// The noise tells it again, free of any offset: darks have the bias frames'
// variance and that of the electrons counted (EMVA 1288: variance against
// exposure; from memory). It is that of the mean pixel which is not hot: where a
// sensor glows that is above the median one, by what the map of the level tells.
// Where the two disagree beyond that, a black level was taken off in the camera or
// the offset moved, and the noise is believed.

const (
	// steadyNoise is how well the read noise itself keeps from series to series, as
	// a share: common practice, no source.
	steadyNoise = 0.005
)

// straightSigma is how far an intercept may be off before it is called so.
const straightSigma = 3

// settleDarks puts a mode's dark sets in series of exposures, one a
// temperature, and fits the law of temperature through what they give.
func (m *mode) settleDarks(cs *Cameras) {
	series := m.darkSeries(cs)
	var each []*ExposureSeries
	for _, s := range series {
		e := exposureSeries(s)
		each = append(each, e)
		for _, d := range s {
			d.series = e
		}
	}
	wander := m.wander(cs, each)
	for i, s := range series {
		e := each[i]
		e.measure(wander, s)
		e.ByNoise = m.byNoise(s)
		e.preferNoise(s)
		if len(e.Points) > 1 || e.astray() {
			m.series = append(m.series, *e)
		}
		for _, d := range s {
			d.settleGlow(s)
		}
	}
	m.settleLaw(cs, series)
	m.lessDark(cs, each, series)
	m.noiseOfDarks(each, series)
}

// noiseOfDarks takes the read noise of a mode without bias frames from its darks: what
// their dark current, by its level above a master bias or over exposures, leaves of their noise.
func (m *mode) noiseOfDarks(each []*ExposureSeries, series [][]*darkRun) {
	if m.readNoise.OK() && !m.claimedNoise() || !measured(m.gain) {
		return
	}
	best := stats.Missing(NoBiasFrames)
	for i, e := range each {
		d := series[i][0]
		noise, _ := analogue(d.Noise, d.Step)
		if !e.Rate.OK() || !measured(noise) {
			continue
		}
		mean := m.atSetPoint(e.Rate, series[i]).Scaled(d.group.Exposure)
		longest := series[i][len(series[i])-1]
		mean.V += longest.uneven * d.group.Exposure / longest.group.Exposure // of the mean pixel that is not hot
		dark := mean.V / m.gain.V
		left := noise.V*noise.V - dark
		err := math.Hypot(2*noise.V*noise.Err, math.Hypot(mean.KnownErr()/m.gain.V, dark*m.gain.KnownErr()/m.gain.V))
		if !(left > 5*err) {
			continue
		}
		v := math.Sqrt(left)
		if own := err / (2 * v); !best.OK() || own/v < best.Err/best.V {
			best = stats.Known(v, math.Hypot(own, steadyNoise*v), len(d.Frames))
		}
	}
	if best.OK() {
		m.readNoise, m.readNoiseFrom = best, []fact.Fact{fact.Of(NoiseByDarks)}
	}
}

// lessDark takes the noise of the dark current that is in bias frames of some exposure, or
// in short darks that stand in for them, off the read noise: of the mean pixel that is not hot, as the noise
// of a frame is. The temperatures of the two sets may differ by what thermometers hide.
func (m *mode) lessDark(cs *Cameras, each []*ExposureSeries, series [][]*darkRun) {
	for _, b := range cs.biases {
		at := b.group.BiasExposure()
		if !m.has(b.group) || at == 0 || !b.readNoise.OK() || !m.gain.OK() {
			continue
		}
		for i, e := range each {
			if !e.Rate.OK() || math.Abs(e.TempC-TemperatureOf(b.group)) > cs.opt.TempTolC {
				continue
			}
			longest := series[i][len(series[i])-1]
			rate := m.atSetPoint(e.Rate, series[i])
			rate.V += longest.uneven / longest.group.Exposure
			dark := rate.Scaled(at / m.gain.V)
			dark.Err = math.Hypot(dark.Err, dark.V*m.gain.KnownErr()/m.gain.V)
			left := b.readNoise.V*b.readNoise.V - dark.V
			b.darkShare = dark.V / (b.readNoise.V * b.readNoise.V)
			if !(left > 2*dark.Err) {
				b.readNoise = stats.Missing(NoiseOfTheseDarks)
				m.settleReadNoise(cs)
				break
			}
			v := math.Sqrt(left)
			b.readNoise = stats.Known(v, math.Hypot(b.readNoise.Err, dark.Err/(2*v)), b.readNoise.N)
			m.settleReadNoise(cs)
		}
	}
}

// darkSeries are the sets of one read-out and temperature each, by exposure.
func (m *mode) darkSeries(cs *Cameras) [][]*darkRun {
	var sets []*darkRun
	for _, d := range cs.darks {
		if m.has(d.group) && d.ok() && d.group.Exposure > 0 {
			sets = append(sets, d)
		}
	}
	slices.SortStableFunc(sets, func(x, y *darkRun) int {
		return cmp.Or(cmp.Compare(x.temperature, y.temperature), cmp.Compare(x.group.Exposure, y.group.Exposure))
	})
	var series [][]*darkRun
	for _, d := range sets {
		i := slices.IndexFunc(series, func(s []*darkRun) bool {
			return SameReadout(s[0].group, d.group) && !(math.Abs(s[0].temperature-d.temperature) > cs.opt.TempTolC)
		})
		if i < 0 {
			series = append(series, nil)
			i = len(series) - 1
		}
		series[i] = append(series[i], d)
	}
	for _, s := range series {
		slices.SortStableFunc(s, func(x, y *darkRun) int { return cmp.Compare(x.group.Exposure, y.group.Exposure) })
	}
	return series
}

func exposureSeries(sets []*darkRun) *ExposureSeries {
	e := &ExposureSeries{Bias: true}
	var temps []float64
	for _, d := range sets {
		e.Bias = e.Bias && d.bias != nil
		temps = append(temps, d.temperature)
	}
	for _, d := range sets {
		level := d.Level()
		v := d.middle
		if e.Bias {
			v = d.signal.V
		}
		err := math.Hypot(level.Err, d.sampling)
		if len(d.Frames) == 1 {
			err = d.sampling // the wander, which a single frame's error holds, is added in the fit
		}
		e.Points = append(e.Points, ExposurePoint{d.group.Exposure, v, err, d.group.Label()})
	}
	e.TempC = stats.Mean(temps)
	return e
}

// line fits the darks of the series, every level known to its own error and the
// wander; bias, when it is OK, is one point more.
func (e *ExposureSeries) line(wander float64, bias stats.Value) (stats.Line, error) {
	var x, y, sigma []float64
	for _, p := range e.Points {
		x, y, sigma = append(x, p.Exposure), append(y, p.Level), append(sigma, math.Hypot(p.Err, wander))
	}
	if bias.OK() {
		x, y, sigma = append(x, 0), append(y, bias.V), append(sigma, math.Hypot(bias.Err, wander))
	}
	return stats.FitLine(x, y, sigma)
}

// wander is by how much the offset moves from series to series, ADU: what the
// levels scatter about their lines, all series of the mode together, more than
// they are known to. The usual share of the read noise counts as one of the
// degrees of freedom.
func (m *mode) wander(cs *Cameras, each []*ExposureSeries) float64 {
	usual := stack.WanderShare
	if m.readNoise.OK() {
		usual *= m.readNoise.V
	}
	for _, b := range cs.biases {
		if kept := b.KeptOrNone(); m.has(b.group) && len(kept) > 1 && b.astray() == 0 {
			usual = max(usual, math.Sqrt(stats.Variance(kept))) // of single frames
		}
	}
	sum, freedom := usual*usual, 1.0
	for _, e := range each {
		bias := stats.Missing(LeftOut)
		if e.Bias {
			bias = stats.Known(0, 0, 1)
		}
		l, err := e.line(usual, bias)
		if free := float64(l.N - 2); err == nil && free > 0 {
			if own, err := e.line(usual, stats.Missing(LeftOut)); err == nil && own.N > 2 && math.Abs(own.A) > straightSigma*own.ErrA {
				l, free = own, float64(own.N-2)
			}
			sum += l.Chi2 * usual * usual
			freedom += free
		}
	}
	return math.Sqrt(sum / freedom)
}

func (e *ExposureSeries) measure(wander float64, sets []*darkRun) {
	bias := stats.Missing(NoBiasAlike)
	if e.Bias {
		bias = stats.Known(0, sets[0].bias.offset.Err, len(sets[0].bias.Frames))
	} else if d := sets[len(sets)-1]; d.biasWhy.Code != "" {
		bias = stats.Because(d.biasWhy)
	}
	frames := 0
	for _, d := range sets {
		frames += len(d.Frames)
	}
	e.Intercept = stats.Missing(OneExposure)
	own, err := e.line(wander, stats.Missing(LeftOut))
	if err == nil {
		e.Fit = own
		e.Intercept = stats.Known(own.A, own.ErrA, frames)
	}
	switch {
	case err != nil && !bias.OK():
		e.Rate = stats.Because(bias.Why)
		return
	case err != nil:
		p := e.Points[len(e.Points)-1]
		err := math.Sqrt(p.Err*p.Err + bias.Err*bias.Err + 2*wander*wander)
		e.claim(stats.Known(p.Level/p.Exposure, err/p.Exposure, frames), fact.Of(DarkMinusBias))
	case !bias.OK():
		e.claim(stats.Known(own.B, own.ErrB, frames), fact.Of(SlopeAlone, fact.Count("exposures", own.N)))
	case math.Abs(own.A) > straightSigma*math.Hypot(own.ErrA, math.Hypot(bias.Err, wander)):
		e.claim(stats.Known(own.B, own.ErrB, frames), fact.Of(SlopeBiasOut, fact.Count("exposures", own.N), fact.Number("off_adu", -own.A)))
	default:
		l, _ := e.line(wander, bias)
		e.claim(stats.Known(l.B, l.ErrB, frames), fact.Of(SlopeWithBias, fact.Count("exposures", own.N)))
	}
	if moves := sets[len(sets)-1].offsetMoves(); len(e.Points) == 1 && e.Rate.OK() && e.Rate.V*e.Points[0].Exposure <= moves {
		e.Rate, e.Method = noClaim(moves), fact.Fact{}
	}
	e.tellStraight()
}

// claim takes a rate that stands out from its error by twice as much.
func (e *ExposureSeries) claim(v stats.Value, how fact.Fact) {
	longest := e.Points[len(e.Points)-1].Exposure
	if !(v.V > 2*v.Err) {
		e.Rate = noClaim(max(2*v.Err, math.Abs(v.V)) * longest)
		return
	}
	e.Rate, e.Method = v, how
}

func noClaim(moves float64) stats.Value {
	return stats.Missing(NoClaim, fact.Number("moves_adu", moves))
}

func (e *ExposureSeries) tellStraight() {
	longest := e.Points[len(e.Points)-1].Exposure
	switch l := e.Fit; {
	case l.N < 3:
	case e.Bias && math.Abs(l.A) > straightSigma*l.ErrA && math.Abs(l.A) > 0.02*math.Abs(l.B)*longest:
		e.Finding = fact.Of(OffsetMoved, fact.Number("temp_c", e.TempC), fact.Number("off_adu", l.A))
	case l.RMS > 0.05*math.Abs(l.B)*(longest-e.Points[0].Exposure):
		e.Finding = fact.Of(DarksNotStraight, fact.Number("temp_c", e.TempC), fact.Number("scatter_adu", l.RMS))
	default:
		e.Finding = fact.Of(DarksStraight, fact.Number("adu_per_s", l.B), fact.Count("exposures", l.N), fact.Number("zero_adu", l.A))
	}
}

// Facts are how the rate was measured and what else was found.
func (e *ExposureSeries) Facts() []fact.Fact {
	return notes([]fact.Fact{e.Method, e.Finding})
}

// astray tells that what was found of a series is to be warned of.
func (e *ExposureSeries) astray() bool {
	return e.Finding.Code != "" && e.Finding.Code != DarksStraight
}

// byNoise is the dark current of a series by its noise, in ADU/s: the mean over
// the sets, by their errors.
func (m *mode) byNoise(sets []*darkRun) stats.Value {
	var sum, weight float64
	frames := 0
	why := fact.Of(TwoDarksNeeded)
	for _, d := range sets {
		v := d.rateByNoise(m)
		if !v.OK() {
			why = v.Why
			continue
		}
		w := 1 / (v.Err * v.Err)
		sum += w * v.V
		weight += w
		frames += v.N
	}
	if weight == 0 {
		return stats.Because(why)
	}
	return stats.Known(sum/weight, 1/math.Sqrt(weight), frames)
}

// rateByNoise is how much more variance a dark has than the bias, as electrons
// counted, in ADU/s.
func (d *darkRun) rateByNoise(m *mode) stats.Value {
	bias := m.readNoise
	if d.bias != nil && d.bias.Noise.OK() {
		bias = d.bias.Noise
	}
	switch {
	case !d.Noise.OK():
		return stats.Because(d.Noise.Why)
	case !bias.OK():
		return stats.Because(bias.Why)
	case !m.gain.OK():
		return stats.Because(m.gain.Why)
	case !(d.group.Exposure > 0):
		return stats.Missing(DarkExposure)
	}
	excess := d.Noise.V*d.Noise.V - bias.V*bias.V
	err := math.Hypot(2*d.Noise.V*max(d.Noise.KnownErr(), steadyNoise*bias.V), 2*bias.V*bias.KnownErr())
	return stats.Known(excess*m.gain.V/d.beyondBias(), err*m.gain.V/d.beyondBias(), len(d.Frames))
}

// disagreement is from which ratio on level and noise disagree, where their
// errors allow it: pixels that are warmer than the median one, but not hot, put
// some of their noise into that of the frame.
const disagreement = 1.6

// preferNoise goes by the noise where the level tells another dark current. What the mean
// pixel has above the median one, which the level shows whatever the offset, is no
// disagreement.
func (e *ExposureSeries) preferNoise(sets []*darkRun) {
	n, l := e.ByNoise, e.Rate
	if !n.OK() || !(n.V > 2*n.Err) {
		return
	}
	level, levelErr := 0.0, 0.0 // no dark current could be claimed: none is seen
	if l.OK() {
		level, levelErr = l.V, l.Err
	} else if len(e.Points) > 0 && e.Bias {
		p := e.Points[len(e.Points)-1]
		level, levelErr = p.Level/p.Exposure, p.Err/p.Exposure
	} else {
		return
	}
	longest := sets[len(sets)-1]
	uneven := longest.uneven / longest.group.Exposure
	mean := level + uneven
	if math.Abs(n.V-mean) < 4*math.Hypot(n.Err, levelErr) || n.V < disagreement*mean && mean < disagreement*n.V {
		return
	}
	n.V -= uneven
	if !(n.V > 2*n.Err) {
		return
	}
	e.Rate = n
	e.Method = fact.Of(ByNoise, fact.Number("level_adu_per_s", level))
	e.Finding = fact.Of(NoiseBelieved, fact.Number("temp_c", e.TempC), fact.Number("level_adu_per_s", level), fact.Number("noise_adu_per_s", n.V))
}
