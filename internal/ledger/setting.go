package ledger

import (
	"time"

	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/sensor"
)

func settingOf(set *sensor.Set) string {
	switch {
	case set.Group != nil:
		return sensor.Setting(set.Group)
	case set.Summary != nil:
		return set.Summary.Setting
	}
	return ""
}

// shotAt are the times of a set's frames; of a camera's summary, those of all its
// calibration frames.
func shotAt(r *night.Result, set *sensor.Set) []time.Time {
	var all []*frames.Frame
	if set.Group != nil {
		all = set.Group.Frames
	} else {
		for _, s := range r.Calib.Sets {
			if s.Group != nil && s.Camera == set.Camera {
				all = append(all, s.Group.Frames...)
			}
		}
	}
	var times []time.Time
	for _, f := range all {
		if !f.Meta.Start.IsZero() {
			times = append(times, f.Meta.Start)
		}
	}
	return times
}
