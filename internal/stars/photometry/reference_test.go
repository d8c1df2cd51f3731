package photometry

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// Fields that are all equally clear, measured with an error of 5 %, have
// transparency 1 on average, not 1 for the luckiest.
func TestClearReferenceIsNotTheLuckiestField(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	const n, err = 200, 0.05
	all := make([]Transparency, n)
	for i := range all {
		all[i].Ratio = stats.Known(3*(1+err*rng.NormFloat64()), 3*err, 12)
	}
	all[7].Ratio = stats.Missing("no stars")
	Normalise(all, make([]*stars.Field, n))
	var sum float64
	for i, a := range all {
		if i != 7 {
			sum += a.Ratio.V
		}
	}
	// The lowest few fall outside two standard errors of the best: 1 to 2 % remain.
	if mean := sum / (n - 1); !(math.Abs(mean-1) <= 0.03) {
		t.Errorf("mean transparency %.3f", mean)
	}
	if all[7].Ratio.OK() {
		t.Error("a field without a ratio got one")
	}
}

// With small errors the best of a cloudy night define clear, not the mean.
func TestClearReferenceOfACloudyNight(t *testing.T) {
	all := make([]Transparency, 20)
	for i := range all {
		v := 2.0
		if i >= 4 {
			v = 1.5 - 0.05*float64(i)
		}
		all[i].Ratio = stats.Known(v, 0.01, 200)
	}
	Normalise(all, make([]*stars.Field, len(all)))
	if got := all[0].Ratio.V; !(math.Abs(got-1) <= 1e-12) {
		t.Errorf("the clearest has %.4f", got)
	}
	if got, want := all[10].Ratio.V, 0.5; !(math.Abs(got-want) <= 1e-12) {
		t.Errorf("a clouded one has %.4f, want %.4f", got, want)
	}
}

// Two trailed fields whose stars took in their neighbours' light, one that is doubled,
// and two of rings whose width could not be measured do not make the round ones of the night look clouded.
func TestClearReferenceIsOfRoundStars(t *testing.T) {
	all, fields := make([]Transparency, 15), make([]*stars.Field, 15)
	for i := range all {
		f := &stars.Field{FWHM: stats.Known(4.9, 0.1, 40), Ellipticity: stats.Known(0.06, 0.01, 40)}
		ratio := 1 + 0.01*float64(i%3-1)
		switch i {
		case 6, 8:
			f.FWHM.V, f.Ellipticity.V, ratio = 17, 0.55, 2+0.1*float64(i)
		case 11:
			f.Double.Share, ratio = stats.Known(0.3, 0.02, 40), 1.4
		case 12, 13:
			f.FWHM, ratio = stats.Missing("rings"), 1.19
		}
		all[i].Ratio, fields[i] = stats.Known(ratio, 0.01, 40), f
	}
	Normalise(all, fields)
	for i, a := range all {
		if i != 6 && i != 8 && (i < 11 || i == 14) && math.Abs(a.Ratio.V-1) > 0.025 {
			t.Errorf("field %d has %.3f", i, a.Ratio.V)
		}
	}
	wide := []*stars.Field{fields[6], fields[8]} // nothing else is there
	two := []Transparency{{Ratio: stats.Known(2, 0.01, 40)}, {Ratio: stats.Known(2, 0.01, 40)}}
	if Normalise(two, wide); !(math.Abs(two[0].Ratio.V-1) <= 1e-12) {
		t.Errorf("of trailed ones alone: %.3f", two[0].Ratio.V)
	}
}
