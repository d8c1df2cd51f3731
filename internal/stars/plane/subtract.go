package plane

import "fitsqa/internal/stats"

// TakeBackground fits the background, of which no noise is less than limit, and takes it
// off with what lines are offset by; false where no pixel tells it.
func (p *Plane) TakeBackground(limit float64) bool {
	if !p.fit(limit) {
		return false
	}
	p.subtract()
	rows, columns := p.rows, p.columns // as they were read out
	if p.levelLines() {
		p.rows = nil
		p.fit(limit)
		p.subtract()
		p.rows, p.columns = rows, columns
	}
	return true
}

// fit fits the background; false where no pixel tells it.
func (p *Plane) fit(limit float64) bool {
	cell := stats.MeshCell(p.W, p.H)
	var filled func(i int) bool
	if p.Green >= 0 { // what is filled in is smoother than what was measured
		filled = func(i int) bool { return !p.Measured(i%p.W, i/p.W) }
	}
	p.Mesh.Step = float32(p.Step)
	p.Mesh.Fit(p.R, p.W, p.H, cell, max(1, cell/20), filled)
	if !p.Mesh.Any() {
		return false
	}
	p.Mesh.RaiseNoise(float32(limit))
	return true
}

// subtract takes the background off in place, and gives pixels that hold no
// number the mean residual of the good ones around them. What looks at every
// pixel of whatever picture happens on this one walk, while a row is in the processor's
// cache: the pixels that are NaN or infinite, the highest value of each row, which
// spares later looks for saturated pixels most of the frame, the lines of Alternation,
// where high pixels are, and which of them may be alone.
func (p *Plane) subtract() {
	p.Bad.reset(p.W*p.H, p.HasBad)
	p.HasBad = false
	p.Tops = p.Tops[:0]
	p.startLines()
	noise := MedianNoise(&p.Mesh).V
	background := float32(3 * noise)
	p.bright = p.bright[:0]
	p.high.reset(float32(loneHeight*noise), p.W, p.H)
	for y := range p.H {
		top, odd := p.Mesh.SubtractRow(y, p.R[y*p.W:][:p.W], p.high.least, p.high.of(y))
		p.Tops = append(p.Tops, top)
		if odd {
			p.noteBad(y)
		}
		p.addLine(y, background)
		p.high.gather(y)
		if p.Green < 0 && y > 0 {
			p.noteBright(y - 1) // has both its neighbours now
		}
	}
	if p.HasBad {
		p.Bad.each(p.fill)
	}
}

// noteBad marks what holds no number in a row.
func (p *Plane) noteBad(y int) {
	p.HasBad = true
	for x, v := range p.R[y*p.W:][:p.W] {
		if v-v != 0 {
			p.Bad.set(y*p.W + x)
		}
	}
}
