package sensor

import "fitsqa/internal/names"

// HotMap is where a camera's hottest pixels were on an earlier night.
type HotMap struct {
	Camera        names.Name
	Setting       string     // of the darks
	Night         string     // date of the evening on which they were shot
	Width, Height int        // px, of the frame
	All           int        // hot pixels, listed or not
	Rate          float64    // e-/s, of the other pixels
	Pixels        []HotPixel // e-/s, the hottest
}

// RecallHot finds the map of darks shot so; nil when there is none.
func RecallHot(all []HotMap, camera names.Name, setting string) *HotMap {
	for i, m := range all {
		if m.Camera.Is(camera) && SameSetting(m.Setting, setting) {
			return &all[i]
		}
	}
	return nil
}
