package measure

import "fitsqa/internal/stars"

// Measure measures one field with buffers of its own.
func Measure(data []float32, w, h int, opt stars.Options) (*stars.Field, error) {
	return new(Measurer).Measure(data, w, h, opt)
}
