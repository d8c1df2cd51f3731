package frames

import (
	"math"
	"slices"

	"fitsqa/internal/stats"
)

// Preview is a picture of a frame made small by averaging whole blocks of
// pixels, row 0 at the bottom as stored.
type Preview struct {
	Width, Height int
	Step          int // source pixels per preview pixel, along x and y
	Pixels        []float32
	Crops         []Crop // pieces at full resolution, the background taken off: around bright stars, the brightest first
}

// PreviewWidth is how wide the small pictures of subs and masters are at most,
// px: one width for both, because dust in flats and subs is compared cell by cell.
const PreviewWidth = 320

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
	s := NewShrinker(w, h, maxWidth, mosaic)
	s.Add(pixels[:w*h])
	return s.Preview
}

// Shrinker is Shrink for pixels that come strip by strip, from the first row on.
type Shrinker struct {
	Preview *Preview // complete when all rows were added
	width   int
	row     int       // rows added so far
	sum     []float32 // of a block's rows, at each column
	next    []float32 // scratch: the sum with four more
	filled  []float32 // scratch: a row without its NaN
	bad     []int     // NaN pixels of each block
}

// NewShrinker starts a picture of w x h pixels; the parameters are those of Shrink.
func NewShrinker(w, h, maxWidth int, mosaic bool) *Shrinker {
	step := max(1, (w+maxWidth-1)/max(1, maxWidth))
	if mosaic {
		step += step & 1
	}
	step = max(1, min(step, w, h))
	p := &Preview{Width: w / step, Height: h / step, Step: step}
	p.Pixels = make([]float32, 0, min(p.Width*p.Height, atOnce))
	return &Shrinker{Preview: p, width: w, sum: make([]float32, p.Width*step), next: make([]float32, p.Width*step), bad: make([]int, p.Width)}
}

// atOnce is how many pixels of a picture there is room for before any has come: those of
// most pictures, and no more than any header may claim.
const atOnce = 1 << 18

// Add takes in the next whole rows.
func (s *Shrinker) Add(rows []float32) {
	step := s.Preview.Step
	for len(rows) >= s.width && s.row < s.Preview.Height*step {
		n := 1
		if s.row%step+4 <= step && len(rows) >= 4*s.width && s.addFour(rows) {
			n = 4
		} else {
			s.addRow(rows[:len(s.sum)])
		}
		rows = rows[n*s.width:]
		if s.row += n; s.row%step == 0 {
			s.finishBlocks()
		}
	}
}

// addFour adds four rows to the sums; false where one of them has NaN, and nothing is
// added then.
func (s *Shrinker) addFour(rows []float32) bool {
	var four [4][]float32
	for k := range four {
		four[k] = rows[k*s.width:][:len(s.sum)]
	}
	if stats.AddFour(s.next, s.sum, &four) {
		return false
	}
	s.sum, s.next = s.next, s.sum
	return true
}

// addRow adds a row to the sums, NaN as nothing.
func (s *Shrinker) addRow(row []float32) {
	if _, gaps := stats.TopOfRow(row); gaps {
		s.filled = append(s.filled[:0], row...)
		row = s.filled
		for x, v := range row {
			if v != v {
				row[x] = 0
				s.bad[x/s.Preview.Step]++
			}
		}
	}
	stats.AddRow(s.sum, row)
}

func (s *Shrinker) finishBlocks() {
	p := s.Preview
	first := len(p.Pixels)
	p.Pixels = slices.Grow(p.Pixels, p.Width)[:first+p.Width]
	blocks := p.Pixels[first:]
	sumBlocks(blocks, s.sum, p.Step)
	for bx, bad := range s.bad {
		blocks[bx] /= float32(p.Step*p.Step - bad) // 0/0 is NaN
	}
	clear(s.sum)
	clear(s.bad)
}

// sumBlocks sums blocks of so many columns, four side by side: one sum would wait for
// itself.
func sumBlocks(blocks, columns []float32, step int) {
	for len(blocks) >= 4 {
		a, b, c, d := columns[:step], columns[step:][:step], columns[2*step:][:step], columns[3*step:][:step]
		var sa, sb, sc, sd float32
		for k := range a {
			sa, sb, sc, sd = sa+a[k], sb+b[k], sc+c[k], sd+d[k]
		}
		blocks[0], blocks[1], blocks[2], blocks[3] = sa, sb, sc, sd
		blocks, columns = blocks[4:], columns[4*step:]
	}
	for bx := range blocks {
		blocks[bx] = 0
		for _, v := range columns[bx*step:][:step] {
			blocks[bx] += v
		}
	}
}

// AddCrops cuts square pieces of at most size px, an even number, around places of
// the frame that the preview was made of, each the nearest pixel's; a piece that
// would reach over the edge is left out.
func (p *Preview) AddCrops(pixels []float32, w, h, size int, places [][2]float64) {
	for _, at := range places {
		c := Crop{X: int(math.Round(at[0])) - size/2, Y: int(math.Round(at[1])) - size/2, Width: size, Height: size}
		if c.X < 0 || c.Y < 0 || c.X+size > w || c.Y+size > h {
			continue
		}
		c.Pixels = make([]float32, 0, size*size)
		for y := c.Y; y < c.Y+size; y++ {
			c.Pixels = append(c.Pixels, pixels[y*w+c.X:y*w+c.X+size]...)
		}
		p.Crops = append(p.Crops, c)
	}
}
