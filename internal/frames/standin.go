package frames

import (
	"math"

	"fitsqa/internal/names"
)

// Many shoot no bias frames but darks of their flats' exposure. Of a few seconds these
// tell read noise, offset and gain as bias frames do: what little dark current is in
// them is known by the longer darks beside them.

const (
	longestStandIn = 10 // s, of a dark that may stand in for bias frames
	fewestStandIns = 3
	farShorter     = 10 // times: than the subs and the longest darks
)

// readout is what the frames of one offset and read noise share.
type readout struct {
	camera        names.Name
	width, height int
	binX, binY    int
	gain, offset  float64
	mode          names.Name
}

func (f *Frame) readout() readout {
	known := func(x float64) float64 {
		if math.IsNaN(x) {
			return math.Inf(-1) // unknown is like unknown
		}
		return x
	}
	m := f.Meta
	return readout{m.Camera, f.Image.Width, f.Image.Height, m.BinX, m.BinY, known(m.GainSetting), known(m.OffsetSetting), m.ReadoutMode}
}

type exposures struct{ shortest, longest float64 }

func (e *exposures) add(s float64) {
	if e.longest == 0 || s < e.shortest {
		e.shortest = s
	}
	e.longest = max(e.longest, s)
}

// standInForBias makes bias frames of the shortest darks of a read-out that has none,
// where longer darks are there and no sub is as short.
func standInForBias(fs []*Frame) {
	bias := map[readout]bool{}
	darks, lights := map[readout]*exposures{}, map[readout]*exposures{}
	add := func(to map[readout]*exposures, f *Frame) {
		r := f.readout()
		if to[r] == nil {
			to[r] = &exposures{}
		}
		to[r].add(f.Meta.Exposure)
	}
	for _, f := range fs {
		if f.standsIn {
			f.Kind, f.standsIn = Dark, false
		}
		switch {
		case f.Err != nil:
		case f.Kind == Bias:
			bias[f.readout()] = true
		case f.Kind == Dark && !f.Master && f.Meta.Exposure > 0:
			add(darks, f)
		case f.Kind == Light && f.Meta.Exposure > 0:
			add(lights, f)
		}
	}
	short := map[readout][]*Frame{}
	for _, f := range fs {
		if f.Err != nil || f.Kind != Dark || f.Master || bias[f.readout()] {
			continue
		}
		d, l := darks[f.readout()], lights[f.readout()]
		if d != nil && d.shortest <= longestStandIn && d.longest >= farShorter*d.shortest && (l == nil || l.shortest >= farShorter*d.shortest) &&
			same(f.Meta.Exposure, d.shortest, exposureTolerance*d.shortest) {
			short[f.readout()] = append(short[f.readout()], f)
		}
	}
	for _, some := range short {
		if len(some) < fewestStandIns {
			continue
		}
		for _, f := range some {
			f.Kind, f.standsIn = Bias, true
			f.warn(DarkAsBias, exposureValue(f.Meta.Exposure))
		}
	}
}
