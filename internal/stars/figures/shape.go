package figures

import (
	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// Shape is a width, px, and an ellipticity; NaN where no field has one.
type Shape struct{ width, ellipticity float64 }

// UsualShape is the median one.
func UsualShape(fields []*stars.Field) Shape {
	var widths, ellipticities []float64
	for _, f := range fields {
		if f != nil && f.FWHM.OK() && f.Ellipticity.OK() {
			widths, ellipticities = append(widths, f.FWHM.V), append(ellipticities, f.Ellipticity.V)
		}
	}
	return Shape{stats.Median(widths), stats.Median(ellipticities)}
}

// SurelyExceeded is Exceeded by more than two standard errors.
func (s Shape) SurelyExceeded(f *stars.Field, wider, longer float64) bool {
	return f.FWHM.Surely() > wider*s.width || f.Ellipticity.Surely() > s.ellipticity+longer
}

// Exceeded tells whether a field is wider by a factor or more drawn out by so much.
func (s Shape) Exceeded(f *stars.Field, wider, longer float64) bool {
	return f.FWHM.V > wider*s.width || f.Ellipticity.V > s.ellipticity+longer
}
