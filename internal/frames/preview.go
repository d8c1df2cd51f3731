package frames

// Preview is a picture of a frame made small by averaging whole blocks of
// pixels, row 0 at the bottom as stored.
type Preview struct {
	Width, Height int
	Step          int // source pixels per preview pixel, along x and y
	Pixels        []float32
	Crops         []Crop // pieces at full resolution: four corners and the centre
}

// Crop is a rectangle of the frame at full resolution.
type Crop struct {
	X, Y          int // first pixel in the frame
	Width, Height int
	Pixels        []float32
}

// Shrink averages w x h pixels in square blocks, so that the picture is at
// most maxWidth wide. The blocks are as even as a colour mosaic asks for when
// mosaic is set; pixels right of and above the last whole block are left out.
// NaN pixels do not count; a block of nothing else is NaN.
func Shrink(pixels []float32, w, h, maxWidth int, mosaic bool) *Preview {
	step := max(1, (w+maxWidth-1)/max(1, maxWidth))
	if mosaic {
		step += step & 1
	}
	step = max(1, min(step, w, h))
	p := &Preview{Width: w / step, Height: h / step, Step: step}
	p.Pixels = make([]float32, p.Width*p.Height)
	sum := make([]float32, p.Width)
	bad := make([]int, p.Width) // NaN pixels of each block
	for by := range p.Height {
		clear(sum)
		clear(bad)
		for y := by * step; y < (by+1)*step; y++ {
			row := pixels[y*w : y*w+p.Width*step]
			for bx := range sum {
				s := float32(0)
				for _, v := range row[bx*step : (bx+1)*step] {
					s += v
				}
				if s != s {
					s = 0
					for _, v := range row[bx*step : (bx+1)*step] {
						if v == v {
							s += v
						} else {
							bad[bx]++
						}
					}
				}
				sum[bx] += s
			}
		}
		out := p.Pixels[by*p.Width : (by+1)*p.Width]
		for bx, s := range sum {
			out[bx] = s / float32(step*step-bad[bx]) // 0/0 is NaN
		}
	}
	return p
}

// AddCrops cuts size x size pixels, or what there is, out of the four corners
// and the centre of the frame that the preview was made of.
func (p *Preview) AddCrops(pixels []float32, w, h, size int) {
	cw, ch := min(size, w), min(size, h)
	right, top := w-cw, h-ch
	// Even origins keep the phase of a colour mosaic.
	for _, o := range [][2]int{{0, 0}, {right &^ 1, 0}, {0, top &^ 1}, {right &^ 1, top &^ 1}, {right / 2 &^ 1, top / 2 &^ 1}} {
		c := Crop{X: o[0], Y: o[1], Width: cw, Height: ch, Pixels: make([]float32, 0, cw*ch)}
		for y := c.Y; y < c.Y+ch; y++ {
			c.Pixels = append(c.Pixels, pixels[y*w+c.X:y*w+c.X+cw]...)
		}
		p.Crops = append(p.Crops, c)
	}
}
