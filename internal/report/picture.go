package report

import (
	"bytes"
	"encoding/base64"
	"image"
	"image/jpeg"
	"math"
	"sort"

	"fitsqa/internal/frames"
	"fitsqa/internal/stats"
)

const (
	pictureWidth   = 320 // px, of a sub's preview at most
	pictureQuality = 72  // of the JPEG, 1 to 100
	cropQuality    = 80
)

// stretch maps pixel values to grey levels: an inverse hyperbolic sine from a
// little below the sky up to bright stars (the law of Lupton et al. 2004, PASP
// 116, 133). One stretch serves all subs of a group, so that a veiled or
// moonlit sub looks paler than its neighbours.
type stretch struct {
	black float64 // value shown black
	soft  float64 // where the curve turns from straight to logarithmic
	scale float64 // grey levels over the asinh of the white point
}

const (
	blackSigma = 2.5  // the black point lies this many sigma below the sky
	softSigma  = 3    // straight up to here, in sigma
	whiteSigma = 4000 // white point, in sigma above the sky

	cropWhiteSigma = 300 // likewise, of crops
)

// newStretch is made from the sky level and noise of each of a group's
// previews; their medians count.
func newStretch(previews []*frames.Preview) stretch {
	var skies, noises []float64
	for _, p := range previews {
		if sky, noise := skyOf(p.Pixels); noise > 0 {
			skies, noises = append(skies, sky), append(noises, noise)
		}
	}
	if len(skies) == 0 {
		return stretch{black: 0, soft: 1, scale: 255 / math.Asinh(1)}
	}
	sky, noise := stats.Median(skies), stats.Median(noises)
	return newStretchAt(sky, noise, whiteSigma)
}

func newStretchAt(sky, noise, white float64) stretch {
	soft := softSigma * noise
	return stretch{
		black: sky - blackSigma*noise,
		soft:  soft,
		scale: 255 / math.Asinh((white+blackSigma)*noise/soft),
	}
}

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
	table, low, perStep := s.table()
	for y := range h {
		row, out := pixels[y*w:(y+1)*w], im.Pix[(h-1-y)*im.Stride:]
		for x, v := range row {
			k := (v - low) * perStep
			switch {
			case !(k > 0):
				out[x] = 0
			case k < float32(len(table)-1):
				out[x] = table[int(k+0.5)]
			default:
				out[x] = s.grey(v)
			}
		}
	}
	return im
}

// table holds the grey levels of the sky and of faint stars, where nearly all
// pixels lie, in steps far finer than a grey level.
func (s stretch) table() (levels []uint8, low, perStep float32) {
	const steps, sigmas = 4096, 100
	levels = make([]uint8, steps)
	width := sigmas * s.soft / softSigma
	for i := range levels {
		levels[i] = s.grey(float32(s.black + width*float64(i)/steps))
	}
	return levels, float32(s.black), float32(steps / width)
}

// previewJPEG is a sub's picture, at most pictureWidth px wide.
func previewJPEG(p *frames.Preview, s stretch) []byte {
	pixels, w, h := p.Pixels, p.Width, p.Height
	if w > pictureWidth {
		small := frames.Shrink(pixels, w, h, pictureWidth, false)
		pixels, w, h = small.Pixels, small.Width, small.Height
	}
	return encodeJPEG(s.render(pixels, w, h), pictureQuality)
}

// cropsJPEG puts the corners and the centre of a frame, at full resolution,
// into one picture: the corners in its corners, the centre between them. Each
// has its own sky, so that a nebula or vignetting hides no star; noise and
// scale are the same for all, and much steeper than a preview's, since shapes
// matter here and the noise is a single pixel's. Empty without crops.
func cropsJPEG(p *frames.Preview) []byte {
	if len(p.Crops) == 0 {
		return nil
	}
	cw, ch := 0, 0
	skies, noises := make([]float64, len(p.Crops)), make([]float64, len(p.Crops))
	for i, c := range p.Crops {
		skies[i], noises[i] = skyOf(c.Pixels)
		cw, ch = max(cw, c.Width), max(ch, c.Height)
	}
	noise := stats.Median(noises)
	if !(noise > 0) {
		noise = 1
	}
	const gap = 4
	im := image.NewGray(image.Rect(0, 0, 3*cw+2*gap, 2*ch+gap))
	columns, rows := cropPlaces(p.Crops)
	for i, c := range p.Crops {
		g := newStretchAt(skies[i], noise, cropWhiteSigma).render(c.Pixels, c.Width, c.Height)
		x0 := columns[i] * (cw + gap)
		y0 := (1 - rows[i]) * (ch + gap)
		if columns[i] == 1 {
			y0 = (ch + gap) / 2
		}
		for y := range c.Height {
			copy(im.Pix[(y0+y)*im.Stride+x0:][:c.Width], g.Pix[y*g.Stride:][:c.Width])
		}
	}
	return encodeJPEG(im, cropQuality)
}

// cropPlaces tells for each crop whether it is left (0), central (1) or right
// (2), and at the bottom (0) or the top (1).
func cropPlaces(crops []frames.Crop) (columns, rows []int) {
	xs, ys := make([]int, len(crops)), make([]int, len(crops))
	for i, c := range crops {
		xs[i], ys[i] = c.X, c.Y
	}
	sort.Ints(xs)
	sort.Ints(ys)
	left, right, bottom, top := xs[0], xs[len(xs)-1], ys[0], ys[len(ys)-1]
	for _, c := range crops {
		column, row := 1, 0
		switch c.X {
		case left:
			column = 0
		case right:
			column = 2
		}
		if c.Y == top && top > bottom {
			row = 1
		}
		columns, rows = append(columns, column), append(rows, row)
	}
	return columns, rows
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
