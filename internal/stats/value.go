package stats

import (
	"math"
	"strconv"

	"fitsqa/internal/fact"
)

// Value is a measured number with its uncertainty, or the reason why there is
// none. The zero Value is a measured 0 with unknown sample; make missing ones
// with Missing.
type Value struct {
	V   float64   // the figure; NaN when it could not be measured
	Err float64   // its standard uncertainty (1 sigma), NaN when not known
	N   int       // how many frames, stars or samples stand behind it, as the field's owner documents
	Why fact.Fact // why V is NaN; no code when it was measured
}

// Known is a figure with its uncertainty (NaN when not known) from n samples.
func Known(v, err float64, n int) Value { return Value{V: v, Err: err, N: n} }

// Missing is a figure that could not be measured, and why.
func Missing(why fact.Code, values ...fact.Value) Value { return Because(fact.Of(why, values...)) }

// Because is a figure that could not be measured, for a reason that is known already:
// that of another figure, often.
func Because(why fact.Fact) Value {
	return Value{V: math.NaN(), Err: math.NaN(), Why: why}
}

// Reason is why there is no figure: NotMeasured where none was given.
func (v Value) Reason() fact.Fact {
	if v.Why.Code == "" {
		return fact.Of(NotMeasured)
	}
	return v.Why
}

// OK tells whether the figure was measured.
func (v Value) OK() bool { return !math.IsNaN(v.V) && !math.IsInf(v.V, 0) }

// Scaled is the figure times a factor that is itself exact.
func (v Value) Scaled(factor float64) Value {
	v.V *= factor
	v.Err *= math.Abs(factor)
	return v
}

// Or is the figure, or another number where it could not be measured.
func (v Value) Or(other float64) float64 {
	if v.OK() {
		return v.V
	}
	return other
}

// OrZero is a number, or 0 where it is not known, for sums.
func OrZero(x float64) float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return 0
	}
	return x
}

// KnownErr is the standard error, 0 where it is unknown.
func (v Value) KnownErr() float64 {
	if math.IsNaN(v.Err) {
		return 0
	}
	return v.Err
}

// Surely is what the figure exceeds with some certainty: two standard errors less.
func (v Value) Surely() float64 { return v.V - 2*v.KnownErr() }

// PlusMinus writes the figure with its uncertainty, both rounded to the second
// digit of the uncertainty (Guide to the Expression of Uncertainty in
// Measurement, JCGM 100:2008, 7.2.6: at most two digits): "0.0587 ± 0.0012".
// "" when the figure or its uncertainty is unknown, or when the uncertainty is
// none that digits can show.
func (v Value) PlusMinus() string {
	if !v.OK() || !(v.Err > 1e-8) || math.IsInf(v.Err, 0) {
		return ""
	}
	places := max(0, 1-int(math.Floor(math.Log10(v.Err))))
	// Adding 0 to a rounded figure takes the sign off a negative zero.
	unit := math.Pow(10, float64(places))
	return strconv.FormatFloat(math.Round(v.V*unit)/unit+0, 'f', places, 64) + " ± " + strconv.FormatFloat(v.Err, 'f', places, 64)
}

// Same tells whether two figures of headers are one: equal, or both not known.
func Same(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }
