package demo

import "time"

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
