package sensor

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// measure streams the set, once more where copies have to be left out.
func (f *flatRun) measure(cs *Cameras) {
	f.detail = &Flat{}
	m, err := f.stackFlats(cs)
	if err == nil && f.dropCopies() {
		warnings := f.Warnings
		m, err = f.stackFlats(cs)
		f.Warnings = append(warnings, f.Warnings...)
	}
	switch {
	case err != nil:
		f.why = fact.Of(Unstackable, fact.Text("error", err.Error()))
		return
	case len(f.Frames) == 0 && f.why.Code == "":
		f.why = fact.Of(NoneRead)
		return
	case f.why.Code != "":
		return
	}
	f.detail.Unlit = unlitShare(m)
	f.master = cs.opt.Room.Add(m)
	for _, s := range f.shots {
		f.detail.Frames = append(f.detail.Frames, stack.FrameLevel{Name: s.frame.Name, Start: s.frame.Meta.Start, TempC: s.frame.Meta.SensorTemp, Level: s.light})
	}
	f.detail.Points = f.points
	f.detail.Master = preview(m, f.group, cs.opt.Workers)
	f.measureIllumination(m, cs.opt.Workers)
	f.measureShadows(m, cs.opt.Workers)
	f.measurePRNU(m, cs.opt.Workers)
	if f.byDarks {
		f.corner, f.prnu = f.darkInOffset(f.corner), f.darkInOffset(f.prnu)
	}
	if f.offsetFrom.Code == "" {
		f.corner = stats.Missing(OffsetInFlats)
		if f.prnu.OK() {
			f.prnu = f.corner
		}
	}
	f.findDead(m)
	f.measureFlicker()
	f.nameBanded()
	f.snr = f.masterSNR()
	f.Sums, f.Pixels = nil, nil
}

// darkInOffset adds to the error of a share of the light what dark current in the offset
// may make of it: at most all the noise of the darks is its.
func (f *flatRun) darkInOffset(share stats.Value) stats.Value {
	var lights []float64
	for _, s := range f.used {
		lights = append(lights, s.light)
	}
	share.Err = math.Hypot(share.Err, share.V*f.readVar/f.variancePerLight()/stats.Mean(lights))
	return share
}

// dropCopies leaves copies of other flats out, if there are any and not all are.
func (f *flatRun) dropCopies() bool {
	if f.Sums == nil {
		return false
	}
	copies := stack.CopiesAmong(f.Sums.RowMeans)
	if len(copies) == 0 || len(copies) == len(f.Frames)-1 {
		return false
	}
	for i := range copies {
		f.copies = append(f.copies, f.Frames[i])
	}
	f.Warnings = append(f.Warnings, stack.ImpostorWarnings(f.Frames, copies, nil)...)
	return true
}

func (f *flatRun) masterSNR() stats.Value {
	if !f.Noise.OK() {
		return stats.Because(f.Noise.Why)
	}
	v := flatScale * math.Sqrt(float64(len(f.Frames))) / f.Noise.V
	return stats.Known(v, v*f.Noise.Err/f.Noise.V, len(f.Frames))
}
