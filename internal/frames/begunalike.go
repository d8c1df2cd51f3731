package frames

import (
	"math"
	"slices"

	"fitsqa/internal/names"
)

// severalTimes is how many times as long as a sub that it began with a finished stack is,
// at least; manyWithin how many starts of the camera's subs lie within that time.
const severalTimes, manyWithin = 3, 3

// begunAlike finds finished stacks, or pictures made of one, that have no less noise
// than subs, being stretched or of another scale: their header is that of their first sub,
// but for the exposure, which is a multiple of it. No camera begins two exposures at once,
// nor others while it exposes.
func begunAlike(fs []*Frame) (found []*Frame) {
	lights := map[names.Name][]*Frame{}
	for _, f := range fs {
		if f.Err == nil && f.Kind == Light && !f.Meta.Start.IsZero() && f.Meta.Exposure > 0 {
			lights[f.Meta.Camera] = append(lights[f.Meta.Camera], f)
		}
	}
	for _, of := range lights {
		slices.SortStableFunc(of, func(a, b *Frame) int { return a.Meta.Start.Compare(b.Meta.Start) })
		for i, f := range of {
			if f.madeOfBegun(of, i) {
				found = append(found, f)
			}
		}
	}
	return found
}

// madeOfBegun tells whether the i-th frame in time order is as long as several subs one of
// which began when it did.
func (f *Frame) madeOfBegun(inTime []*Frame, i int) bool {
	for i > 0 && inTime[i-1].Meta.Start.Equal(f.Meta.Start) {
		i--
	}
	begun, starts := false, map[float64]bool{} // a date without a time has one for all
	for _, o := range inTime[i:] {
		after, t := o.Meta.Start.Sub(f.Meta.Start).Seconds(), o.Meta.Exposure
		if after > f.Meta.Exposure {
			break
		}
		times := f.Meta.Exposure / t
		if times < severalTimes-0.01 || after+t > 1.001*f.Meta.Exposure {
			continue
		}
		begun = begun || after == 0 && math.Abs(times-math.Round(times)) < 0.01*times
		if starts[after] = true; begun && len(starts) >= manyWithin {
			return true
		}
	}
	return false
}
