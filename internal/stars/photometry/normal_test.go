package photometry

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stars/simulated"
	"fitsqa/internal/stats"
)

// Clear subs whose width came out twice as large, with an error that allows for the
// usual one, still tell what is clear; surely wide ones, their neighbours' light in
// their stars, do not.
func TestClearThoughItsWidthIsUnsure(t *testing.T) {
	const w, h = 1200, 900
	for _, c := range []struct {
		err   float64
		clear int // the first that lets all light through
	}{{0.5, 0}, {0.05, 4}} {
		rng := rand.New(rand.NewPCG(3, 8))
		sky := simulated.NewSky(rng, 400, 60, w, h)
		var fields []*stars.Field
		for k := range 12 {
			f := sky.View(rng, w, h, 0, 0, 0, 1, false, simulated.All)
			f.FWHM, f.Ellipticity = stats.Known(1.5, 0.05, 40), stats.Known(0.05, 0.05, 40)
			if k < 4 {
				f.FWHM = stats.Known(2.4, c.err, 10)
			} else {
				f = through(f, func(x, y float64) float64 { return 0.7 })
			}
			fields = append(fields, f)
		}
		al, _ := registration.Align(fields)
		if got := Transparencies(fields, al, nil)[c.clear].Ratio; !(got.V > 0.95 && got.V < 1.05) {
			t.Errorf("error of %g: sub %d lets %v through", c.err, c.clear, got)
		}
	}
}

// One field whose few stars are not those of the others (hot pixels, knots along
// spikes) has no light to compare, however much more or less of it there seems to be,
// and the clear ones stay clear.
func TestOddStarsTellNoLight(t *testing.T) {
	const w, h = 1200, 900
	for _, times := range []float64{80, 1, 0.01} {
		rng := rand.New(rand.NewPCG(5, 8))
		sky := simulated.NewSky(rng, 400, 60, w, h)
		var fields []*stars.Field
		for range 12 {
			f := sky.View(rng, w, h, 0, 0, 0, 1, false, simulated.All)
			f.FWHM, f.Ellipticity = stats.Known(3, 0.05, 40), stats.Known(0.05, 0.02, 40)
			fields = append(fields, f)
		}
		odd := fields[6]
		odd.FWHM, odd.Ellipticity = stats.Known(7, 0.1, 10), stats.Known(0.8, 0.02, 10)
		for i := range odd.Stars {
			odd.Stars[i].Flux *= times * math.Exp(0.3*rng.NormFloat64())
		}
		al, _ := registration.Align(fields)
		if times == 1 { // a few stand where the others have stars
			al[6].Pairs = al[6].Pairs[20:29]
		}
		got := Transparencies(fields, al, nil)
		if r := got[6].Ratio; r.OK() && times >= 1 {
			t.Errorf("times %g: odd one lets %v through", times, r)
		}
		if r := got[3].Ratio; !(math.Abs(r.V-1) < 0.03) {
			t.Errorf("times %g: clear one lets %v through", times, r)
		}
	}
}

// An uneven field that shows more light than most, which are even and steady, was without its
// filter before a part of it: these are clear. Beside ones that change it is the gap in cloud.
func TestLopsidedTellNotWhatIsClear(t *testing.T) {
	for _, c := range []struct {
		name   string
		others []float64
		want   float64 // of the first of the others
	}{
		{"steady", []float64{0.55, 0.56, 0.55, 0.54, 0.55, 0.56}, 1},
		{"changing", []float64{0.55, 0.4, 0.6, 0.5, 0.45, 0.6}, 0.55},
	} {
		all := []Transparency{{Ratio: stats.Known(1, 0.01, 50), Unevenness: stats.Known(40, 4, 16)}}
		for _, v := range c.others {
			all = append(all, Transparency{Ratio: stats.Known(v, 0.01, 50), Unevenness: stats.Known(2, 2, 16)})
		}
		fields := make([]*stars.Field, len(all))
		for i := range fields {
			fields[i] = &stars.Field{FWHM: stats.Known(3, 0.05, 40), Ellipticity: stats.Known(0.05, 0.02, 40)}
		}
		if Normalise(all, fields); !(math.Abs(all[1].Ratio.V-c.want) < 0.03) {
			t.Errorf("%s: %v", c.name, all[1].Ratio)
		}
	}
}
