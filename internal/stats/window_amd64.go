package stats

//go:generate go run ../assembly -routines window -out window_amd64.s

import "golang.org/x/sys/cpu"

// fastSum is Sum where the zeros that fill up the weights fall into the picture too.
func (w *Weights) fastSum(picture []float32, columns int) (float32, bool) {
	if !cpu.X86.HasAVX2 || (w.side-1)*columns+8*w.eights > len(picture) {
		return 0, false
	}
	return weighWindowAVX2(&picture[0], columns, &w.w[0], w.side, w.eights), true
}

//go:noescape
func weighWindowAVX2(picture *float32, columns int, weights *float32, rows, eights int) float32
