package frames

import (
	"slices"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/names"
	"fitsqa/internal/stats"
)

// One camera exposes one frame at a time. Where nearly all of its exposures, taken for
// seconds as is the rule, would begin long before the one before has ended, and taken for
// milliseconds follow one another, they are milliseconds. Two cameras of one name that
// work side by side overlap too, but in every other pair at the most.

const (
	fewestOverlaps = 3
	overlapShare   = 0.9  // of the pairs
	overlapsFar    = 0.05 // of an exposure within which the next begins: cameras side by side seldom keep so near
)

// bareExposure is where exposures without a unit come from.
type bareExposure struct {
	camera names.Name
	key    string
}

// overlaps counts pairs of neighbours in time.
type overlaps struct{ pairs, far, fit int }

func settleMilliseconds(fs []*Frame) {
	cameras := map[names.Name][]*Frame{}
	for _, f := range fs {
		if f.Err == nil && !f.Meta.Start.IsZero() {
			cameras[f.Meta.Camera] = append(cameras[f.Meta.Camera], f)
		}
	}
	milliseconds := map[bareExposure]bool{}
	for camera, own := range cameras {
		slices.SortStableFunc(own, func(a, b *Frame) int { return a.Meta.Start.Compare(b.Meta.Start) })
		for key, n := range followers(own) {
			milliseconds[bareExposure{camera, key}] = n.far >= fewestOverlaps && n.fit == n.far && float64(n.far) >= overlapShare*float64(n.pairs)
		}
	}
	for _, f := range fs {
		m := &f.Meta
		if m.exposureKey != "" && milliseconds[bareExposure{m.Camera, m.exposureKey}] {
			f.warn(ExposureInMS, fact.Text("key", m.exposureKey), fact.Number("number", m.Exposure), fact.Number("exposure_s", stats.Significant(m.Exposure/1000, 4)))
			m.Exposure, m.exposureKey = m.Exposure/1000, ""
			f.classify(f.headerKind, f.folders)
		}
	}
}

// followers counts, for each keyword, the pairs of a camera's frames in time order whose
// first is of a second or more in milliseconds.
func followers(own []*Frame) map[string]overlaps {
	count := map[string]overlaps{}
	for i, f := range own[:max(0, len(own)-1)] {
		m := f.Meta
		gap := own[i+1].Meta.Start.Sub(m.Start)
		if m.exposureKey == "" || m.Exposure < 1000 || gap == 0 || gap > longestPause {
			continue
		}
		n := count[m.exposureKey]
		n.pairs++
		if gap < seconds(overlapsFar*m.Exposure) {
			n.far++
		}
		if gap < seconds(overlapsFar*m.Exposure) && gap >= seconds(0.99*m.Exposure/1000) {
			n.fit++
		}
		count[m.exposureKey] = n
	}
	return count
}

// longestPause is how far apart frames follow one another at the most.
const longestPause = time.Hour
