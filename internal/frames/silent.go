package frames

import (
	"fitsqa/internal/fact"
	"fitsqa/internal/names"
)

// takenBy is what frames of one size tell of the camera that took them.
type takenBy struct {
	camera     names.Name
	binX, binY int
	several    bool // there are several cameras
	binnings   bool // there are several binnings
}

// camerasBySize gives frames whose header names no camera, as masters of many a program,
// the one whose frames alone have their size, and frames whose header tells no binning
// the only one of that size. Where several have it, it stays unknown.
func camerasBySize(fs []*Frame) {
	type size struct {
		width, height int
		colour        bool
	}
	of := func(f *Frame) size { return size{f.Image.Width, f.Image.Height, f.Image.Planes > 1} }
	told := map[size]*takenBy{}
	for _, f := range fs {
		if f.Err != nil || f.Meta.Camera == "" {
			continue
		}
		m := &f.Meta
		s := told[of(f)]
		if s == nil {
			told[of(f)] = &takenBy{camera: m.Camera, binX: m.BinX, binY: m.BinY}
			continue
		}
		s.several = s.several || s.camera != m.Camera
		s.binnings = s.binnings || s.binX != m.BinX || s.binY != m.BinY
	}
	for _, f := range fs {
		s := told[of(f)]
		if f.Err != nil || f.Meta.Camera != "" || s == nil || s.several {
			continue
		}
		f.Meta.Camera = s.camera
		if !s.binnings && !f.Meta.binTold {
			f.Meta.BinX, f.Meta.BinY = s.binX, s.binY
		}
		f.warn(CameraBySize, fact.Text("camera", Printable(string(s.camera))))
	}
}

// readoutModes keeps the names of read-out modes where the frames of a camera tell of
// several, and drops them where they tell of one only: nothing hangs on it there.
func readoutModes(fs []*Frame) {
	modes := map[names.Name]map[names.Key]names.Name{}
	for _, f := range fs {
		m := &f.Meta
		if f.Err != nil || m.ReadoutMode == "" {
			continue
		}
		if modes[m.Camera] == nil {
			modes[m.Camera] = map[names.Key]names.Name{}
		}
		if first, seen := modes[m.Camera][m.ReadoutMode.Key()]; seen {
			m.ReadoutMode = first
		} else {
			modes[m.Camera][m.ReadoutMode.Key()] = m.ReadoutMode
		}
	}
	for _, f := range fs {
		if len(modes[f.Meta.Camera]) < 2 {
			f.Meta.ReadoutMode = ""
		}
	}
}
