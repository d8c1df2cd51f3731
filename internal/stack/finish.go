package stack

import (
	"math"

	"fitsqa/internal/parallel"
	"fitsqa/internal/stats"
)

// RejectSigma is where a sample falls out of a master: 5 sigma of the noise
// takes particle hits and leaves one good sample in two million out.
const RejectSigma = 5

// NoiseFrames is how many frames it takes before single pixels are judged.
const NoiseFrames = 8

// finisher turns the sums of a stack's pixels into their mean and noise, strip
// by strip from several goroutines.
type finisher struct {
	out     []float32
	width   int
	rowStep int // every so many rows have their pixels' noise counted
	sigma   float64
	parts   []finisherPart
	tallied bool
	byRow   []float64 // sum of the variances of every counted row: added up in one order, whoever finished which
}

type finisherPart struct {
	tally pixelTally
	hits  int
}

// newFinisher writes means to out; sigma is the noise of one frame, in units
// of the stack, NaN or 0 when it is not known.
func newFinisher(out []float32, width, rowStep, frames int, sigma float64, workers int) *finisher {
	f := &finisher{out: out, width: width, rowStep: rowStep, sigma: sigma, parts: make([]finisherPart, max(1, workers))}
	if !(sigma > 0) {
		f.sigma = math.Inf(1) // nothing to judge outliers by
		return f
	}
	f.tallied = frames >= NoiseFrames
	f.byRow = make([]float64, len(out)/width/rowStep+1)
	for i := range f.parts {
		f.parts[i].tally = pixelTally{Noise: stats.NewHistogram(0, 100_000), Unit: sigma / 500}
	}
	return f
}

// strip finishes whole rows from row y on.
func (f *finisher) strip(worker, y int, px stats.Pixels) {
	part := &f.parts[worker]
	at := y * f.width
	part.hits += px.CleanMean(f.out[at:at+px.Len()], RejectSigma, f.sigma)
	if !f.tallied {
		return
	}
	for from := 0; from < px.Len(); from += f.width {
		if y%f.rowStep == 0 {
			inverse := 1 / part.tally.Unit
			for i := from; i < from+f.width; i++ {
				v := px.Variance(i)
				f.byRow[y/f.rowStep] += v
				part.tally.Noise.Add(int(math.Sqrt(v)*inverse + 0.5))
			}
		}
		y++
	}
}

func (f *finisher) into(r *Series) {
	r.Pixels = f.out
	total := f.parts[0].tally
	for i := range f.parts {
		r.Hits += f.parts[i].hits
		if i > 0 && f.tallied {
			total.Noise.Merge(f.parts[i].tally.Noise)
		}
	}
	for _, v := range f.byRow {
		total.Variances += v
	}
	if f.tallied {
		r.Tally = &total
	}
}

// Finish makes mean and noise of every pixel from the sums of whole frames.
func (r *Series) Finish(workers int) {
	st := r.Sums
	all := st.Pixels()
	r.Pixels = stats.Floats(all.Len())
	f := newFinisher(r.Pixels, st.Width, st.RowStep(), st.Frames, r.Noise.V/r.Unit.Step, workers)
	parallel.Ranges(st.Height, len(f.parts), func(w, from, to int) {
		f.strip(w, from, all.Slice(from*st.Width, to*st.Width))
	})
	f.into(r)
}
