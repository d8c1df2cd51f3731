package subs

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"fitsqa/internal/names"
	"fitsqa/internal/stats"
)

// A drift that begins in one filter and goes on in the next is one drift, with
// the onset, the speed and the time to the next focusing that were put in.
func TestFocusIsOneCurve(t *testing.T) {
	const speed, every = 2.0, 5 * time.Minute // px/h over 3.4 px in R; Ha is 0.3 px sharper
	late, errs, nights := 0.0, 0.0, 0.0
	for seed := range uint64(8) {
		for _, onset := range []int{6, 12, 18} {
			night := makeNight(seed, "R", 40, nil)
			rng := rand.New(rand.NewPCG(seed, 3))
			for i, s := range night {
				base := 3.4
				if i >= 14 && i < 28 {
					s.Filter, s.Stack, base = "Ha", 1, 3.1
				}
				hours := math.Max(0, float64(i-onset)) * every.Hours()
				s.AmbientTemp = 8 - 1.5*float64(i)*5/60
				s.Field.FWHM.V = base * math.Sqrt(1+math.Pow(speed/3.4*hours, 2)) * (1 + 0.01*rng.NormFloat64())
			}
			drifts := Judge(night, DefaultLimits).FocusDrifts
			if len(drifts) != 1 {
				t.Errorf("seed %d, onset %d: %d drifts", seed, onset, len(drifts))
				continue
			}
			d := drifts[0]
			// The disc adds in quadrature, so that the first subs after the onset hardly
			// widen: two subs at the worst of two dozen, with 1 % of scatter.
			off := d.Since.Sub(night[onset].Start)
			if off.Abs() > 2*every {
				t.Errorf("seed %d, onset %d: since %v off", seed, onset, off)
			}
			late, errs, nights = late+off.Minutes(), errs+math.Pow(off.Minutes()/d.SinceErr.Minutes(), 2), nights+1
			if !(math.Abs(d.BlurPerHour.V/speed-1) <= 0.15) {
				t.Errorf("seed %d: %.2f px/h, want %.2f", seed, d.BlurPerHour.V, speed)
			}
			if want := 60 * math.Sqrt(1.1*1.1-1) * 3.4 / speed; !(math.Abs(d.RefocusMinutes.V/want-1) <= 0.2) ||
				math.Abs(d.RefocusDegrees.V/(want/60*1.5)-1) > 0.2 {
				t.Errorf("seed %d: refocus after %.0f min, %.1f °C; want %.0f", seed, d.RefocusMinutes.V, d.RefocusDegrees.V, want)
			}
			if len(d.Filters) != map[bool]int{true: 2, false: 2}[onset < 28] {
				t.Errorf("seed %d: filters %v", seed, d.Filters)
			}
		}
	}
	// Neither early nor late, by half a sub in the mean of all nights; and the
	// errors that are told are the least ones.
	if late /= nights; !(math.Abs(late) <= every.Minutes()/2) {
		t.Errorf("onsets are told %.1f min late", late)
	}
	if z := math.Sqrt(errs / nights); !(z > 0.5 && z < 2) {
		t.Errorf("onsets are off by %.2f of their errors, rms", z)
	}
}

// Where exposures differ the disc grows by their time, not by their number: short
// subs through one filter do not move the onset.
func TestFocusGoesByTime(t *testing.T) {
	const onset, speed = 10, 0.9 // widths in focus an hour
	for seed := range uint64(6) {
		rng := rand.New(rand.NewPCG(seed, 12))
		night := makeNight(seed, "L", 40, nil)
		start := begin
		var since time.Time
		for i, s := range night {
			if s.Start, s.Exposure = start, 60; i >= 20 {
				s.Filter, s.Stack, s.Exposure = "Ha", 1, 300
			}
			start = start.Add(time.Duration(s.Exposure+6) * time.Second)
			if i == onset {
				since = s.middle()
			}
			out := 0.0
			if i > onset {
				out = speed * s.middle().Sub(since).Hours()
			}
			s.Field.FWHM.V = 3.4 * math.Sqrt(1+out*out) * (1 + 0.006*rng.NormFloat64())
		}
		drifts := Judge(night, DefaultLimits).FocusDrifts
		if len(drifts) != 1 {
			t.Fatalf("seed %d: %d drifts", seed, len(drifts))
		}
		off, err := drifts[0].Since.Sub(night[onset].Start), drifts[0].SinceErr
		if off.Abs() > 3*err || err > 5*time.Minute {
			t.Errorf("seed %d: since %v ± %v off", seed, off, err)
		}
	}
}

// A focus that is lost at once is told so, to the sub, in one filter or two and beside
// seeing that wanders; one that drifts is not. As a drift such a step had an onset of half an
// hour off, and a speed that no focus had.
func TestFocusLostAtOnce(t *testing.T) {
	for _, c := range []struct {
		name         string
		wander       float64 // of the seeing, with a memory of half an hour
		filters      bool
		step, speed  float64 // times the width; widths an hour
		told, sudden int     // of 20 nights, at least
	}{
		{"small step", 0, false, 1.15, 0, 20, 20},
		{"step", 0.05, false, 1.3, 0, 19, 18},
		{"step in two filters", 0.03, true, 1.3, 0, 20, 19},
		{"large step", 0.05, false, 1.6, 0, 19, 19},
		{"drift", 0.05, false, 1, 0.8, 19, 0},
		{"drift in two filters", 0.05, true, 1, 0.8, 19, 0},
	} {
		told, sudden := 0, 0
		for seed := range uint64(20) {
			const onset = 16
			night := wanderingNight(seed, 40, c.wander, 0)
			for i, s := range night {
				if c.filters && i/8%2 == 1 {
					s.Filter, s.Stack = "Ha", 1
					s.Field.FWHM.V *= 0.93
				}
				if i > onset {
					s.Field.FWHM.V *= c.step * math.Sqrt(1+square(c.speed*s.Start.Sub(night[onset].Start).Hours()))
				}
			}
			drifts := Judge(night, DefaultLimits).FocusDrifts
			if len(drifts) == 0 {
				continue
			}
			told++
			if d := drifts[0]; d.Sudden {
				sudden++
				if off := d.Since.Sub(night[onset].Start); off.Abs() > 3*d.SinceErr+10*time.Minute {
					t.Errorf("%s, seed %d: since %v ± %v off", c.name, seed, off, d.SinceErr)
				}
				if d.BlurPerHour.OK() || d.RefocusMinutes.OK() {
					t.Errorf("%s, seed %d: a step has a speed: %+v", c.name, seed, d)
				}
			}
		}
		if told < c.told || sudden < c.sudden || c.sudden == 0 && sudden > 0 {
			t.Errorf("%s: %d of 20 told, %d as lost at once", c.name, told, sudden)
		}
	}
}

// A target that rises from 20 to 60° has a seeing that shrinks by 40 %; where the optics or
// the air near the ground make the widths, they stay or shrink by a part of that, and no
// focus was lost. One that is lost shows all the same.
func TestRisingIsNoFocus(t *testing.T) {
	for _, c := range []struct {
		follows float64 // part of the airmass that shows in the widths
		speed   float64 // widths an hour, from the middle on
		told    int     // of 20 nights
	}{{0, 0, 0}, {0.4, 0, 0}, {0.8, 0, 0}, {1, 0, 0}, {0, 0.9, 20}, {0.5, 0.9, 20}, {1, 0.9, 20}} {
		told := 0
		for seed := range uint64(20) {
			night := wanderingNight(seed, 40, 0.02, 0)
			for i, s := range night {
				x := 2.9 - 1.75*math.Sqrt(float64(i)/39)
				s.Sky.Airmass = stats.Known(x, math.NaN(), 0)
				s.Field.FWHM.V *= math.Pow(x, c.follows*airmassPow)
				s.Field.FWHM.V *= math.Sqrt(1 + square(c.speed*math.Max(0, s.Start.Sub(night[20].Start).Hours())))
			}
			told += len(Judge(night, DefaultLimits).FocusDrifts)
		}
		if told != c.told {
			t.Errorf("widths that follow %g of the airmass, focus leaving by %g an hour: %d of 20 told, want %d", c.follows, c.speed, told, c.told)
		}
	}
}

// wanderingNight is a night whose seeing scatters by 3 % from sub to sub and wanders, with a
// memory of half an hour; its subs are five minutes apart, but for two gaps of so long.
func wanderingNight(seed uint64, n int, wander float64, gap time.Duration) []*Sub {
	rng := rand.New(rand.NewPCG(seed, 77))
	night := makeNight(seed, "L", n, nil)
	at, x, since := begin, wander*rng.NormFloat64(), time.Duration(0)
	for i, s := range night {
		if since = 5 * time.Minute; i > 0 && i%((n+2)/3) == 0 {
			since += gap
		}
		at = at.Add(since)
		memory := math.Exp(-since.Minutes() / 30)
		x = memory*x + math.Sqrt(1-memory*memory)*wander*rng.NormFloat64()
		s.Start, s.Field.FWHM.V = at, 3.4*math.Exp(x+0.03*rng.NormFloat64())
	}
	return night
}

// Seeing is no focus: subs in clumps with hours between, each with its own seeing, and
// seeing that wanders by an eighth within a night. As if each sub stood for itself, 10 and
// 9 of these 60 nights had a loss of focus.
func TestSeeingIsNoFocus(t *testing.T) {
	for _, c := range []struct {
		name   string
		n      int
		wander float64
		gap    time.Duration
		most   int // of 60 nights: a night that widens slowly and once looks like a focus
	}{{"clumps", 12, 0.15, 2 * time.Hour, 1}, {"wandering", 40, 0.12, 0, 2}} {
		told := 0
		for seed := range uint64(60) {
			told += len(Judge(wanderingNight(seed, c.n, c.wander, c.gap), DefaultLimits).FocusDrifts)
		}
		if told > c.most {
			t.Errorf("%s: %d losses of focus in 60 nights", c.name, told)
		}
	}
}

// Seeing that wanders is no drift; focusing again ends one.
func TestFocusStretches(t *testing.T) {
	for seed := range uint64(20) {
		night := makeNight(seed, "R", 40, nil)
		if d := Judge(night, DefaultLimits).FocusDrifts; len(d) != 0 {
			t.Errorf("seed %d: %+v", seed, d)
		}
	}
	night := makeNight(1, "R", 40, nil)
	for i, s := range night {
		s.Field.FWHM.V = 3.4 * math.Sqrt(1+math.Pow(0.08*float64(i%20), 2)) * (1 + 0.01*math.Sin(7*float64(i)))
	}
	d := Judge(night, DefaultLimits).FocusDrifts
	if len(d) != 2 || d[0].Until != night[19].Start || !d[1].Since.After(night[19].Start) {
		t.Errorf("%+v", d)
	}
}

// The focuser's travel: 18 steps a degree and 25 steps for Ha, moved ten times.
func TestFocusLaw(t *testing.T) {
	night := makeNight(2, "R", 40, nil)
	rng := rand.New(rand.NewPCG(4, 4))
	position := 0.0
	for i, s := range night {
		s.AmbientTemp = 10 - 0.1*float64(i)
		if i%8 >= 4 {
			s.Filter, s.Stack = "Ha", 1
		}
		if i%4 == 0 {
			position = math.Round(18000 + 18*s.AmbientTemp + map[names.Name]float64{"R": 0, "Ha": 25}[s.Filter] + 2*rng.NormFloat64())
		}
		s.FocusPosition = position
	}
	laws := Judge(night, DefaultLimits).FocusLaws
	if len(laws) != 1 || laws[0].Runs != 10 || len(laws[0].Offsets) != 1 {
		t.Fatalf("%+v", laws)
	}
	l := laws[0]
	if v := l.StepsPerDegree; !(math.Abs(v.V-18) <= 3*v.Err) || v.Err > 1 {
		t.Errorf("%v ± %v steps/°C, want 18", v.V, v.Err)
	}
	if v := l.Offsets[0].Steps; l.Offsets[0].Filter != "Ha" || !(math.Abs(v.V-25) <= 3*v.Err) || v.Err > 3 {
		t.Errorf("%+v, want 25", l.Offsets[0])
	}
}

// Positions by a table of filters alone are met exactly, but are whole steps all the same.
func TestFocusLawOfATable(t *testing.T) {
	night := makeNight(2, "R", 40, nil)
	for i, s := range night {
		s.AmbientTemp, s.FocusPosition = 10-0.1*float64(i), 12000
		if i%8 >= 4 {
			s.Filter, s.Stack, s.FocusPosition = "Ha", 1, 12045
		}
	}
	laws := Judge(night, DefaultLimits).FocusLaws
	if len(laws) != 1 || len(laws[0].Offsets) != 1 {
		t.Fatalf("%+v", laws)
	}
	// Ten positions, each known to 0.29 steps, over 3.6 °C.
	for _, v := range []stats.Value{laws[0].StepsPerDegree, laws[0].Offsets[0].Steps} {
		if !(v.Err > 0.05 && v.Err < 0.3) {
			t.Errorf("%v ± %v steps", v.V, v.Err)
		}
	}
}

// Of many short exposures those that follow each other are followed as one: no more widths
// than for a night of fewer, with filters in turns as well, and the drift is told by them all.
func TestManyWidthsAreFollowedTogether(t *testing.T) {
	const subs, onset, speed, filters = 600, 250, 0.9, 3 // widths in focus an hour
	const every = 40 * time.Second
	for _, block := range []int{1, 100} { // subs of one filter in a row
		rng := rand.New(rand.NewPCG(3, uint64(block)))
		night := makeNight(3, "L", subs, nil)
		for i, s := range night {
			s.Start, s.Exposure = begin.Add(time.Duration(i)*every), every.Seconds()-6
			s.Stack = i / block % filters
			s.Filter = []names.Name{"R", "G", "B"}[s.Stack]
			hours := math.Max(0, float64(i-onset)*every.Hours())
			s.Field.FWHM.V = (3 + 0.1*float64(s.Stack)) * math.Sqrt(1+math.Pow(speed*hours, 2)) * (1 + 0.02*rng.NormFloat64())
		}
		res := &Result{Groups: group(night)}
		of := res.gather(inTimeOrder(night), DefaultLimits, map[*Sub]bool{})
		var all []*evidence
		for _, s := range inTimeOrder(night) {
			all = append(all, of[s])
		}
		// Those left over where a filter ends are few: one for each of its blocks.
		stretches := focusStretches(all)
		if len(stretches) != 1 || len(stretches[0]) > focusWidths+subs/100 || countSubs(stretches[0]) != subs {
			t.Fatalf("block %d: %d stretches, the first of %d widths of %d subs", block, len(stretches), len(stretches[0]), countSubs(stretches[0]))
		}
		drifts := focusDrifts(all)
		if len(drifts) != 1 {
			t.Fatalf("block %d: %d drifts", block, len(drifts))
		}
		// As little as two dozen subs of 2 % show the onset: see TestFocusIsOneCurve.
		d := drifts[0]
		if off := d.Since.Sub(night[onset].Start); off.Abs() > 24*every || d.Subs < subs-onset-24 || !d.Until.Equal(night[subs-1].Start) {
			t.Errorf("block %d: since %v off, %d subs, until %v", block, off, d.Subs, d.Until)
		}
		if !(math.Abs(d.BlurPerHour.V/(3*speed)-1) <= 0.15) { // as there
			t.Errorf("block %d: %.2f px/h, want %.2f", block, d.BlurPerHour.V, 3*speed)
		}
	}
}
