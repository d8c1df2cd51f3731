package review

import (
	"bytes"
	"image"
	"image/png"
)

// tileSize is how wide and high a tile is, px of its level.
const tileSize = 512

// uncompressed, a tile of noise is written in a tenth of the time of any
// compression, and it only goes from one program of this machine to another.
var uncompressed = png.Encoder{CompressionLevel: png.NoCompression}

// tile draws one tile of a level as a PNG, row 0 of the frame first, by the curve
// of a stretch. A tile beyond the edge is nil.
func (p *picture) tile(z, tx, ty int, s Stretch, c *curve) []byte {
	if z < 0 || z >= len(p.levels) || tx < 0 || ty < 0 {
		return nil
	}
	l := p.levels[z]
	if tx > l.width/tileSize || ty > l.height/tileSize {
		return nil
	}
	x0, y0 := tx*tileSize, ty*tileSize
	w, h := min(tileSize, l.width-x0), min(tileSize, l.height-y0)
	if w <= 0 || h <= 0 {
		return nil
	}
	var im image.Image
	switch {
	case z == 0 && p.bayer != "":
		im = p.mosaicTile(c, s, x0, y0, w, h)
	case len(l.planes) == 3:
		im = p.colourTile(l, c, s, x0, y0, w, h)
	default:
		grey := image.NewGray(image.Rect(0, 0, w, h))
		row := make([]float32, w)
		for y := range h {
			c.shades(grey.Pix[y*grey.Stride:], 1, l.planes[0].row(row, l.width, y0+y, x0, x0+w), s.Black, s.White)
		}
		im = grey
	}
	var b bytes.Buffer
	if err := uncompressed.Encode(&b, im); err != nil {
		return nil // only a picture of no pixels fails
	}
	return b.Bytes()
}

// shift is how far a colour's background lies from the mean of all: taken off,
// so that the sky is grey.
func (p *picture) shift(k int) float64 {
	return p.sky[k] - (p.sky[0]+p.sky[1]+p.sky[2])/3
}

func (p *picture) colourTile(l level, c *curve, s Stretch, x0, y0, w, h int) image.Image {
	im := newOpaque(w, h)
	row := make([]float32, w)
	for y := range h {
		for k, plane := range l.planes {
			c.shades(im.Pix[y*im.Stride+k:], 4, plane.row(row, l.width, y0+y, x0, x0+w), s.Black+p.shift(k), s.White+p.shift(k))
		}
	}
	return im
}

// mosaicTile interpolates the colours of a mosaic: each from the nearest pixels
// that have it, within one pixel around.
func (p *picture) mosaicTile(c *curve, s Stretch, x0, y0, w, h int) image.Image {
	im := newOpaque(w, h)
	l := p.levels[0]
	left, right := max(0, x0-1), min(l.width, x0+w+1)
	var rows [3][]float32
	for k := range rows {
		rows[k] = make([]float32, right-left)
	}
	colour := [3][]float32{make([]float32, w), make([]float32, w), make([]float32, w)}
	for y := y0; y < y0+h; y++ {
		for k := range rows {
			l.planes[0].row(rows[k], l.width, min(max(y-1+k, 0), l.height-1), left, right)
		}
		for x := x0; x < x0+w; x++ {
			var sum, n [3]float32
			own := plane(rune(p.bayer[y%2*2+x%2]))
			for dy := -1; dy <= 1; dy++ {
				if y+dy < 0 || y+dy >= l.height {
					continue
				}
				for i := max(x-1, left); i <= min(x+1, right-1); i++ {
					k := plane(rune(p.bayer[(y+dy)%2*2+i%2]))
					if v := rows[dy+1][i-left]; v == v {
						sum[k], n[k] = sum[k]+v, n[k]+1
					}
				}
			}
			for k := range colour {
				colour[k][x-x0] = sum[k] / n[k]
			}
			if v := rows[1][x-left]; v == v {
				colour[own][x-x0] = v
			}
		}
		for k := range colour {
			c.shades(im.Pix[(y-y0)*im.Stride+k:], 4, colour[k], s.Black+p.shift(k), s.White+p.shift(k))
		}
	}
	return im
}

func newOpaque(w, h int) *image.RGBA {
	im := image.NewRGBA(image.Rect(0, 0, w, h))
	for i := 3; i < len(im.Pix); i += 4 {
		im.Pix[i] = 255
	}
	return im
}
