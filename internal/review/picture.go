package review

import (
	"math"
	"runtime"

	"fitsqa/internal/frames"
	"fitsqa/internal/parallel"
	"fitsqa/internal/stats"
)

// picture is a decoded frame and smaller copies of it, each half as wide as the
// one before, down to what fits on a screen. Row 0 is the first as stored.
type picture struct {
	width, height int
	bayer         string  // pattern of the full-size level; "" when it is no mosaic
	levels        []level // the first is the frame itself
	sky, noise    [3]float64
}

// level is one size of the picture: three planes of colour or one of grey; the
// full size of a mosaic is one plane, to be interpolated as it is cut.
type level struct {
	width, height int
	planes        []samples
}

// samples is one plane of pixels, as the file has them.
type samples struct {
	u16 []uint16
	f32 []float32
}

// row copies pixels x0 to x1 of a row of pixels w wide.
func (s samples) row(dst []float32, w, y, x0, x1 int) []float32 {
	dst = dst[:x1-x0]
	if s.u16 == nil {
		copy(dst, s.f32[y*w+x0:y*w+x1])
		return dst
	}
	for i, v := range s.u16[y*w+x0 : y*w+x1] {
		dst[i] = float32(v)
	}
	return dst
}

// smallest is how wide the smallest level is at most, px.
const smallest = 640

func readPicture(path string) (*picture, error) {
	f := frames.File(path, frames.DefaultScanOptions)
	if f.Err != nil {
		return nil, f.Err
	}
	var im frames.Image
	if err := f.Read(&im); err != nil {
		return nil, err
	}
	p := &picture{width: im.Width, height: im.Height, bayer: f.Meta.Bayer}
	full := level{width: im.Width, height: im.Height}
	n := im.Width * im.Height
	for k := range im.Planes {
		plane := samples{}
		if im.U16 != nil {
			plane.u16 = im.U16[k*n : (k+1)*n]
		} else {
			plane.f32 = im.F32[k*n : (k+1)*n]
		}
		full.planes = append(full.planes, plane)
	}
	if len(full.planes) == 3 {
		p.bayer = ""
	}
	p.levels = []level{full}
	p.addLevels()
	p.measureSky()
	return p, nil
}

// addLevels makes the smaller copies of the first level. A mosaic has one at
// least: it is where its colours are separated.
func (p *picture) addLevels() {
	last := p.levels[0]
	if p.bayer != "" && last.width > 1 && last.height > 1 {
		last = last.cells(p.bayer)
		p.levels = append(p.levels, last)
	}
	for last.width > smallest && last.height > 1 {
		last = last.half()
		p.levels = append(p.levels, last)
	}
}

// bytes is about how much memory the picture holds.
func (p *picture) bytes() int64 {
	n := int64(0)
	for _, l := range p.levels {
		for _, s := range l.planes {
			n += int64(2*len(s.u16) + 4*len(s.f32))
		}
	}
	return n
}

// like makes room for a smaller copy: whole numbers stay such, which takes half the
// memory and costs a smaller copy less than a third of a count.
func (s samples) like(n int) samples {
	if s.u16 != nil {
		return samples{u16: make([]uint16, n)}
	}
	return samples{f32: make([]float32, n)}
}

func (s samples) set(i int, v float32) {
	if s.u16 != nil {
		s.u16[i] = uint16(v + 0.5)
		return
	}
	s.f32[i] = v
}

// half averages 2x2 pixels; those that are not numbers do not count. All processors
// work on it: the first look at a frame waits for its smaller copies.
func (l level) half() level {
	out := level{width: l.width / 2, height: l.height / 2}
	for _, plane := range l.planes {
		small := plane.like(out.width * out.height)
		parallel.Ranges(out.height, runtime.GOMAXPROCS(0), func(_, from, to int) {
			if plane.u16 != nil {
				halveWhole(small.u16, plane.u16, l.width, out.width, from, to)
			} else {
				halve(small.f32, plane.f32, l.width, out.width, from, to)
			}
		})
		out.planes = append(out.planes, small)
	}
	return out
}

// halveWhole makes rows from to to, n px wide, of rows twice as many and w px wide.
func halveWhole(dst, src []uint16, w, n, from, to int) {
	for y := from; y < to; y++ {
		a, b, out := src[2*y*w:][:2*n], src[(2*y+1)*w:][:2*n], dst[y*n:][:n]
		for x := range out {
			out[x] = uint16((uint32(a[2*x]) + uint32(a[2*x+1]) + uint32(b[2*x]) + uint32(b[2*x+1]) + 2) / 4)
		}
	}
}

// halve does the same to pixels that may be no numbers.
func halve(dst, src []float32, w, n, from, to int) {
	for y := from; y < to; y++ {
		a, b, out := src[2*y*w:][:2*n], src[(2*y+1)*w:][:2*n], dst[y*n:][:n]
		for x := range out {
			v := (a[2*x] + a[2*x+1] + b[2*x] + b[2*x+1]) / 4
			if v != v {
				v = meanOf(a[2*x], a[2*x+1], b[2*x], b[2*x+1])
			}
			out[x] = v
		}
	}
}

// meanOf is the mean of the values that are numbers.
func meanOf(values ...float32) float32 {
	sum, n := float32(0), float32(0)
	for _, v := range values {
		if v == v {
			sum, n = sum+v, n+1
		}
	}
	return sum / n
}

// cells makes one colour pixel of every 2x2 cell of a mosaic: red, the mean of
// the greens, blue.
func (l level) cells(bayer string) level {
	out := level{width: l.width / 2, height: l.height / 2}
	for range 3 {
		out.planes = append(out.planes, l.planes[0].like(out.width*out.height))
	}
	parallel.Ranges(out.height, runtime.GOMAXPROCS(0), func(_, from, to int) {
		rows := [2][]float32{make([]float32, 2*out.width), make([]float32, 2*out.width)}
		for y := from; y < to; y++ {
			for k := range rows {
				l.planes[0].row(rows[k], l.width, 2*y+k, 0, 2*out.width)
			}
			for x := range out.width {
				var sum, n [3]float32
				for k, c := range bayer {
					v := rows[k/2][2*x+k%2]
					if i := plane(c); v == v {
						sum[i], n[i] = sum[i]+v, n[i]+1
					}
				}
				for k := range out.planes {
					out.planes[k].set(y*out.width+x, sum[k]/n[k])
				}
			}
		}
	})
	return out
}

func plane(colour rune) int {
	switch colour {
	case 'R':
		return 0
	case 'B':
		return 2
	}
	return 1
}

// measureSky finds level and noise of each colour's background, of single
// pixels, from some ten thousand of them.
func (p *picture) measureSky() {
	at := p.levels[0]
	if p.bayer != "" && len(p.levels) > 1 {
		at = p.levels[1]
	}
	for k, plane := range at.planes {
		n := at.width * at.height
		step := max(1, n/10007)
		var sample []float64
		for i := 0; i < n; i += step {
			v := float64(plane.row(make([]float32, 1), at.width, i/at.width, i%at.width, i%at.width+1)[0])
			if !math.IsNaN(v) {
				sample = append(sample, v)
			}
		}
		if len(sample) > 0 {
			p.sky[k], p.noise[k] = stats.Median(sample), stats.MADSigma(sample)
		}
	}
	for k := len(at.planes); k < 3; k++ {
		p.sky[k], p.noise[k] = p.sky[0], p.noise[0]
	}
}
