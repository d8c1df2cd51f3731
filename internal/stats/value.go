package stats

import "math"

// Value is a measured number with its uncertainty, or the reason why there is
// none. The zero Value is a measured 0 with unknown sample; make missing ones
// with Missing.
type Value struct {
	V   float64 // the figure; NaN when it could not be measured
	Err float64 // its standard uncertainty (1 sigma), NaN when not known
	N   int     // how many frames, stars or samples stand behind it, as the field's owner documents
	Why string  // why V is NaN, one short sentence part without a full stop
}

// Known is a figure with its uncertainty (NaN when not known) from n samples.
func Known(v, err float64, n int) Value { return Value{V: v, Err: err, N: n} }

// Missing is a figure that could not be measured, and why.
func Missing(why string) Value {
	return Value{V: math.NaN(), Err: math.NaN(), Why: why}
}

// OK tells whether the figure was measured.
func (v Value) OK() bool { return !math.IsNaN(v.V) && !math.IsInf(v.V, 0) }

// Scaled is the figure times a factor that is itself exact.
func (v Value) Scaled(factor float64) Value {
	v.V *= factor
	v.Err *= math.Abs(factor)
	return v
}
