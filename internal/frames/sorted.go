package frames

import "slices"

// Sorted is a scan sorted once, for all that comes after: no package sorts
// frames again, and none compares labels, which are for people.
type Sorted struct {
	Frames  []*Frame   // all of them
	Groups  []*Group   // readable single frames, as Groups gives them
	Masters []*Frame   // readable frames that were combined before
	Stacks  [][]*Frame // subs that are stacked and judged together, readable or not; in the order of the frames
}

// Sort sorts the frames of a scan.
func Sort(fs []*Frame) *Sorted {
	standInForBias(fs)
	s := &Sorted{Frames: fs, Groups: Groups(fs)}
	var broken []*Frame
	for _, f := range fs {
		switch {
		case f.Master && f.Err == nil:
			s.Masters = append(s.Masters, f)
		case f.IsSub() && f.Err != nil:
			broken = append(broken, f)
		}
	}
	s.stack(broken)
	return s
}

// IsSub tells whether a file gets a row among the subs: every light frame, and
// every unreadable file that nothing shows to be a calibration frame.
func (f *Frame) IsSub() bool {
	return !f.Master && (f.Kind == Light || f.Err != nil && f.Kind == Unknown)
}

// stack joins the groups of lights that differ in what stacking does not mind:
// the rotation of the camera and its offset setting. A file that could not be
// read goes with the subs of its settings, as far as its header says.
func (s *Sorted) stack(broken []*Frame) {
	var heads []*Group // what each stack was begun with
	put := func(g *Group) {
		for i, h := range heads {
			if h.stacksWith(g) {
				s.Stacks[i] = append(s.Stacks[i], g.Frames...)
				return
			}
		}
		heads = append(heads, g)
		s.Stacks = append(s.Stacks, slices.Clone(g.Frames))
	}
	for _, g := range s.Groups {
		if g.Kind == Light {
			put(g)
		}
	}
	for _, f := range broken {
		meant := *f
		meant.Kind = Light
		g := newGroup(&meant)
		g.Frames = []*Frame{f}
		put(g)
	}
}

// stacksWith tells whether the subs of two groups are stacked together. What a
// broken file does not tell of its size agrees with any.
func (g *Group) stacksWith(o *Group) bool {
	return g.Target == o.Target && g.Filter == o.Filter && g.Camera == o.Camera && g.ReadoutMode == o.ReadoutMode &&
		same(g.Exposure, o.Exposure, exposureTolerance*min(g.Exposure, o.Exposure)) && same(g.GainSetting, o.GainSetting, 0) &&
		(g.Width == 0 || o.Width == 0 || g.Width == o.Width && g.Height == o.Height && g.BinX == o.BinX && g.BinY == o.BinY)
}
