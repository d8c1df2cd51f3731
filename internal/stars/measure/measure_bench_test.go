package measure

import (
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/simulated"
)

// BenchmarkMeasure4Mpx measures a field of 500 stars; ns/px is what to watch,
// for larger frames only have more pixels.
func BenchmarkMeasure4Mpx(b *testing.B) {
	const side, count = 2048, 500
	s := simulated.NewSim(1, side, side, 700)
	q := simulated.PSF{Fwhm: 3.2, Beta: 3.5}
	for i := range count {
		s.Star(s.Rng.Float64()*side, s.Rng.Float64()*side, s.Signal(20*float64(count)/float64(i+1), 700, q), q)
	}
	frame := s.Frame()
	data := make([]float32, len(frame))
	var m Measurer
	for b.Loop() {
		copy(data, frame)
		if _, err := m.Measure(data, side, side, stars.DefaultOptions); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/(side*side), "ns/px")
}
