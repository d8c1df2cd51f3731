package report

import (
	"fmt"
	"io"

	"fitsqa/internal/calib"
	"fitsqa/internal/night"
)

const mapPrefix = "hot_"

// mapOutputs are the files that --maps adds: the hot pixels of every dark set
// as a list and as a mask.
func mapOutputs(r *night.Result) []output {
	if !r.Settings.Calib.Maps || r.Calib == nil {
		return nil
	}
	var files []output
	taken := map[string]bool{}
	for _, s := range r.Calib.Sets {
		if s.Dark == nil || !s.Measured || s.Group == nil {
			continue
		}
		stem := calib.FileStem(s.Label)
		for i := 2; taken[stem]; i++ {
			stem = fmt.Sprintf("%s_%d", calib.FileStem(s.Label), i)
		}
		taken[stem] = true
		files = append(files,
			output{mapPrefix + stem + ".csv", func(w io.Writer, _ *night.Result) error { return calib.WriteHotCSV(w, s) }},
			output{mapPrefix + stem + ".fits", func(w io.Writer, _ *night.Result) error { return calib.WriteMaskFITS(w, s) }})
	}
	return files
}
