package night

import (
	"errors"
	"io"

	"fitsqa/internal/frames"
)

// Enlarged reads a sub once more for a picture of up to width px, corrected as
// it was when it was measured. No whole frame is held.
func (s *Sub) Enlarged(width int) (p *frames.Preview, err error) {
	defer frames.CatchPanic(&err)
	r, err := s.Frame.Open()
	if err != nil {
		return nil, err
	}
	defer r.Close()
	if r.Planes == 3 {
		r.Skip(r.Height) // green, as the small picture
	}
	small := frames.NewShrinker(r.Width, r.Height, width, s.Frame.Meta.Bayer != "")
	var im frames.Image
	var strip []float32
	const rows = 64
	for y := 0; y < r.Height; {
		n, err := r.Rows(&im, min(rows, r.Height-y))
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		strip = im.Float32(0, strip)
		if s.applied != nil {
			s.applied.Apply(strip, y*r.Width, r.Width*r.Height)
		}
		small.Add(strip)
		y += n
	}
	return small.Preview, nil
}
