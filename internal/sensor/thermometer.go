package sensor

import (
	"math"
	"slices"

	"fitsqa/internal/stats"
)

const (
	// thermometerStep is what thermometers whose readings never differ are taken
	// to resolve, °C: common practice, no source.
	thermometerStep = 0.4
	// usualDoubling is how many °C double a dark current whose law is not known:
	// common practice (5 to 7), no source.
	usualDoubling = 6
)

// boltzmann is the Boltzmann constant, eV/K.
const boltzmann = 8.617333e-5

func kelvin(celsius float64) float64 { return celsius + 273.15 }

// temperatureErr is how well the temperature of a set is known, °C: to the step
// of the thermometer, and as its readings scatter.
func (m *mode) temperatureErr(sets []*darkRun) float64 {
	scatter, n := 0.0, 0.0
	for _, d := range sets {
		if sensor, _ := d.Temps(); len(sensor) > 1 {
			scatter += stats.Variance(sensor) * float64(len(sensor))
			n += float64(len(sensor))
		}
	}
	err := m.thermometer / math.Sqrt(12)
	if n > 0 {
		err = math.Hypot(err, math.Sqrt(scatter/n/n))
	}
	return err
}

// findThermometer finds the step of the mode's thermometer: the least
// difference between readings near one another.
func (m *mode) findThermometer(cs *Cameras) {
	var readings []float64
	for _, d := range cs.darks {
		for _, f := range d.group.Frames {
			if t := f.Meta.SensorTemp; m.has(d.group) && !math.IsNaN(t) {
				readings = append(readings, t)
			}
		}
	}
	slices.Sort(readings)
	m.thermometer = thermometerStep
	found := math.Inf(1)
	for i := 1; i < len(readings); i++ {
		if gap := readings[i] - readings[i-1]; gap > 1e-3 && gap < 1 {
			found = min(found, gap)
		}
	}
	if !math.IsInf(found, 1) {
		m.thermometer = found
	}
}

// atSetPoint adds what the temperature's error makes of a rate: the dark current
// at the reported temperature.
func (m *mode) atSetPoint(rate stats.Value, sets []*darkRun) stats.Value {
	if !rate.OK() {
		return rate
	}
	doubling := m.law.DoublingC.Or(usualDoubling)
	rate.Err = math.Hypot(rate.KnownErr(), rate.V*math.Ln2/doubling*m.temperatureErr(sets))
	return rate
}
