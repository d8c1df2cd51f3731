package night

import (
	"fitsqa/internal/names"
	"fitsqa/internal/stats"
)

// CameraChange is a figure of a camera that differs from the nights before by more than
// noise and daily change explain.
type CameraChange struct {
	Camera         names.Name
	Metric         string
	Setting        string // under which it was measured
	Unit           string
	Latest, Before stats.Value // tonight's, and the mean of those before; errors are NaN when not known
	Until          string      // the last of the nights before
}
