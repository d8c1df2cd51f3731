package report

import (
	"bytes"
	"encoding/base64"
	"html/template"
	"image"
	"image/jpeg"
	"math"

	"fitsqa/internal/frames"
	"fitsqa/internal/stats"
)

const (
	pictureWidth   = 320 // px, of a sub's preview at most
	pictureQuality = 72  // of the JPEG, 1 to 100
	stripQuality   = 85
)

// stretch maps pixel values to grey levels: an inverse hyperbolic sine from a
// little below the sky up to bright stars (the law of Lupton et al. 2004, PASP
// 116, 133). One stretch serves all subs of a group, so that a veiled or
// moonlit sub looks paler than its neighbours.
type stretch struct {
	black float64 // value shown black
	soft  float64 // where the curve turns from straight to logarithmic
	scale float64 // grey levels over the asinh of the white point

	// The grey levels of the sky and of faint stars, where nearly all pixels lie,
	// in steps far finer than a grey level: worked out once for all pictures of a group.
	levels  []uint8
	perStep float32 // steps over a value
}

// newStretch shows black up to a value, is straight over soft more, and turns white
// at a third.
func newStretch(black, soft, white float64) stretch {
	const steps, sigmas = 4096, 100
	width := sigmas * soft / softSigma
	s := stretch{black: black, soft: soft, scale: 255 / math.Asinh((white-black)/soft), levels: make([]uint8, steps), perStep: float32(steps / width)}
	for i := range s.levels {
		s.levels[i] = s.grey(float32(black + width*float64(i)/steps))
	}
	return s
}

const (
	blackSigma = 2.5  // the black point lies this many sigma below the sky
	softSigma  = 3    // straight up to here, in sigma
	whiteSigma = 4000 // white point, in sigma above the sky
)

func newStretchAt(sky, noise, white float64) stretch {
	return newStretch(sky-blackSigma*noise, softSigma*noise, sky+white*noise)
}

func (s stretch) curve() [3]float64 { return [3]float64{s.black, s.soft, s.scale} }

// skyOf is the median and the robust sigma of about 2000 of the pixels; NaN
// pixels do not count.
func skyOf(pixels []float32) (sky, noise float64) {
	step := max(1, len(pixels)/2000)
	var sample []float64
	for i := 0; i < len(pixels); i += step {
		if v := float64(pixels[i]); !math.IsNaN(v) && !math.IsInf(v, 0) {
			sample = append(sample, v)
		}
	}
	if len(sample) == 0 {
		return 0, 0
	}
	return stats.Median(sample), stats.MADSigma(sample)
}

// grey is the level of one value; NaN is black.
func (s stretch) grey(v float32) uint8 {
	x := (float64(v) - s.black) / s.soft
	if !(x > 0) {
		return 0
	}
	return uint8(math.Min(255, s.scale*math.Asinh(x)+0.5))
}

// render draws w x h pixels with row 0 at the bottom.
func (s stretch) render(pixels []float32, w, h int) *image.Gray {
	im := image.NewGray(image.Rect(0, 0, w, h))
	low, last := float32(s.black), float32(len(s.levels)-1)
	for y := range h {
		row, out := pixels[y*w:(y+1)*w], im.Pix[(h-1-y)*im.Stride:]
		for x, v := range row {
			k := (v - low) * s.perStep
			switch {
			case !(k > 0):
				out[x] = 0
			case k < last:
				out[x] = s.levels[int(k+0.5)]
			default:
				out[x] = s.grey(v)
			}
		}
	}
	return im
}

// previewJPEG is a sub's picture, at most width px wide.
func previewJPEG(p *frames.Preview, s stretch, width int) []byte {
	pixels, w, h := p.Pixels, p.Width, p.Height
	if w > width {
		small := frames.Shrink(pixels, w, h, width, false)
		pixels, w, h = small.Pixels, small.Width, small.Height
	}
	return encodeJPEG(s.render(pixels, w, h), pictureQuality)
}

// stripColumns is how many stars stand beside each other in a strip.
const stripColumns = 8

// stripGap is between the stars of a strip, px.
const stripGap = 2

// stripJPEG puts the pieces of a strip into one picture, the star nearest to the
// centre of the frame first. Empty without pieces.
func stripJPEG(strip []frames.Crop, s stretch) []byte {
	if len(strip) == 0 {
		return nil
	}
	size := strip[0].Width
	columns := min(stripColumns, len(strip))
	rows := (len(strip) + columns - 1) / columns
	im := image.NewGray(image.Rect(0, 0, columns*(size+stripGap)-stripGap, rows*(size+stripGap)-stripGap))
	for i := range im.Pix {
		im.Pix[i] = 128 // the gaps, unlike sky and stars
	}
	for k, c := range strip {
		g := s.render(c.Pixels, c.Width, c.Height)
		x0, y0 := k%columns*(size+stripGap), k/columns*(size+stripGap)
		for y := range c.Height {
			copy(im.Pix[(y0+y)*im.Stride+x0:][:c.Width], g.Pix[y*g.Stride:][:c.Width])
		}
	}
	return encodeJPEG(im, stripQuality)
}

func encodeJPEG(im image.Image, quality int) []byte {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, im, &jpeg.Options{Quality: quality}); err != nil {
		return nil // only a picture of no pixels fails, and then there is none to show
	}
	return b.Bytes()
}

// dataURI is a JPEG as the source of an image.
func dataURI(jpg []byte) string {
	if len(jpg) == 0 {
		return ""
	}
	return "data:image/jpeg;base64," + base64.StdEncoding.EncodeToString(jpg)
}

// imageSource is the source of an image as an attribute: base64 or a name from
// the shelf, which hold nothing that could end it.
func imageSource(source string) template.HTMLAttr {
	return template.HTMLAttr(`src="` + source + `"`)
}
