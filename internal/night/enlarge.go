package night

import (
	"cmp"
	"runtime"
	"slices"

	"fitsqa/internal/frames"
	"fitsqa/internal/parallel"
)

// Enlarged reads a sub once more for a picture of up to width px, corrected as
// it was when it was measured. No whole frame is held. A plain file is read in parts
// side by side.
func (s *Sub) Enlarged(width int) (*frames.Preview, error) {
	im := s.Frame.Image
	whole := s.shrinker(im.Height, width).Preview
	parts := 1
	if im.Compression == "" {
		parts = max(1, min(runtime.GOMAXPROCS(0), whole.Height))
	}
	pixels := make([][]float32, parts)
	errs := make([]error, parts)
	parallel.Ranges(whole.Height, parts, func(part, from, to int) {
		pixels[part], errs[part] = s.shrink(from*whole.Step, to*whole.Step, width)
	})
	whole.Pixels = slices.Concat(pixels...)
	return whole, cmp.Or(errs...)
}

// shrinker makes some rows of the sub small.
func (s *Sub) shrinker(rows, width int) *frames.Shrinker {
	return frames.NewShrinker(s.Frame.Image.Width, rows, width, s.Frame.Meta.Bayer != "")
}

// shrink reads the rows from one up to another, whole rows of the picture, and makes
// them small.
func (s *Sub) shrink(from, to, width int) (pixels []float32, err error) {
	defer frames.CatchPanic(&err)
	r, err := s.Frame.Open()
	if err != nil {
		return nil, err
	}
	defer r.Close()
	if r.Planes == 3 {
		r.Skip(r.Height) // green, as the small picture
	}
	r.Skip(from)
	small := s.shrinker(to-from, width)
	var strip []float32
	for y := from; y < to; {
		if strip, err = r.Floats(strip, to-y); err != nil {
			return nil, err
		}
		if s.applied != nil {
			s.applied.Apply(strip, y*r.Width, r.Width*r.Height)
		}
		small.Add(strip)
		y += len(strip) / r.Width
	}
	return small.Preview.Pixels, nil
}
