package calib

import (
	"math"

	"gonum.org/v1/gonum/stat"

	"fitsqa/internal/sensor"
	"fitsqa/internal/stats"
)

// Warmth is at which temperatures, °C, the dark current of a group's subs is known and
// taken off, and by which law it changes between.
type Warmth struct {
	KnownC       float64     // of Calibration.DarkRate: the subs' usual one
	TakenC       float64     // of the dark that is subtracted; NaN where none is
	ActivationEV stats.Value // missing where darks of one temperature alone are known
	Carried      bool        // DarkRate is carried from darks of a temperature nearby by the doubling that is usual
	CarriedC     float64     // that temperature
}

// DarkLeft is the dark current in e-/s that a sub whose sensor was so warm keeps after
// what is subtracted: all of it where that is a bias, else what its own temperature makes
// of it beyond the dark's. A sub of unknown temperature is taken for a usual one.
func (c *Calibration) DarkLeft(celsius float64) stats.Value {
	if !c.DarkRate.OK() {
		return stats.Because(c.DarkRate.Why)
	}
	own, ownErr := c.Warmth.growth(celsius)
	taken, takenErr := 0.0, 0.0
	if c.DarkTaken {
		taken, takenErr = c.Warmth.growth(c.Warmth.TakenC)
	}
	times := own - taken
	return stats.Known(c.DarkRate.V*times, math.Hypot(c.DarkRate.KnownErr()*times, c.DarkRate.V*(ownErr-takenErr)), c.DarkRate.N)
}

// Spread is by how much, as a share, the dark current of subs of these temperatures scatters about
// its mean, which one master of darks leaves in them.
func (w Warmth) Spread(celsius []float64) float64 {
	var times []float64
	for _, c := range celsius {
		own, _ := w.growth(c)
		times = append(times, own)
	}
	mean, sd := stat.PopMeanStdDev(times, nil)
	return sd / mean
}

// growth is how many times DarkRate the dark current is at a temperature, and how wrong
// the law may make that: an activation energy's error, or where there is none that of the
// usual doubling.
func (w Warmth) growth(celsius float64) (times, err float64) {
	if math.IsNaN(celsius) || math.IsNaN(w.KnownC) {
		return 1, 0
	}
	ev := w.ActivationEV
	if !ev.OK() {
		ev = sensor.UsualActivation(w.KnownC)
	}
	lever := sensor.InverseKT(w.KnownC) - sensor.InverseKT(celsius)
	times = math.Exp(ev.V * lever)
	return times, times * ev.KnownErr() * lever
}
