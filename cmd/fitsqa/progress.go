package main

import (
	"io"
	"time"

	"github.com/schollz/progressbar/v3"
)

// progress shows one bar a stage, with rate and remaining time, when w is a
// terminal; otherwise it is silent, so that logs and pipes stay clean.
type progress struct {
	w    io.Writer
	show bool
	name string
	bar  *progressbar.ProgressBar
}

func newProgress(w io.Writer) *progress {
	f := terminal(w)
	return &progress{w: f, show: f != nil} // a bar steers the terminal: it goes there directly
}

// update is called as work goes on, from one goroutine at a time.
func (p *progress) update(stage string, done, total int) {
	if !p.show || total <= 0 {
		return
	}
	if p.bar == nil || p.name != stage {
		p.finish()
		p.name = stage
		p.bar = progressbar.NewOptions(total,
			progressbar.OptionSetWriter(p.w), progressbar.OptionSetDescription(stage),
			progressbar.OptionShowCount(), progressbar.OptionShowIts(), progressbar.OptionSetItsString("frames"),
			progressbar.OptionSetPredictTime(true), progressbar.OptionThrottle(100*time.Millisecond),
			progressbar.OptionClearOnFinish(), progressbar.OptionFullWidth())
	}
	_ = p.bar.Set(done) // a bar that cannot be drawn is no reason to stop
}

func (p *progress) stage(name string) func(done, total int) {
	return func(done, total int) { p.update(name, done, total) }
}

func (p *progress) finish() {
	if p.bar != nil {
		_ = p.bar.Finish() // as above
		p.bar = nil
	}
}
