package stars

import "testing"

// BenchmarkMeasure4Mpx measures a field of 500 stars; ns/px is what to watch,
// for larger frames only have more pixels.
func BenchmarkMeasure4Mpx(b *testing.B) {
	const side, stars = 2048, 500
	s := newSim(1, side, side, 700)
	q := psf{fwhm: 3.2, beta: 3.5}
	for i := range stars {
		s.star(s.rng.Float64()*side, s.rng.Float64()*side, s.signal(20*float64(stars)/float64(i+1), 700, q), q)
	}
	frame := s.frame()
	data := make([]float32, len(frame))
	var m Measurer
	for b.Loop() {
		copy(data, frame)
		if _, err := m.Measure(data, side, side, DefaultOptions); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/(side*side), "ns/px")
}
