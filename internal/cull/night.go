package cull

import (
	"encoding/json"
	"fmt"
	"io"
	"time"
)

// Sub is what culling needs to know of an analysed sub.
type Sub struct {
	Path     string // absolute
	Size     int64  // bytes
	Modified time.Time
	Verdict  string // "keep", "doubtful" or "cull"
	Sentence string // why
}

// maxNight bounds what is read of a night.json, bytes: some 10 kB a sub.
const maxNight = 1 << 30

// ReadNight takes the subs from a night.json. Other fields are ignored, so
// that a file of a newer minor version still serves; another schema version is
// an error.
func ReadNight(r io.Reader) ([]Sub, error) {
	var night struct {
		SchemaVersion int `json:"schema_version"`
		Subs          []struct {
			Path        string `json:"path"`
			PathBytes   []byte `json:"path_bytes"`
			SizeBytes   int64  `json:"size_bytes"`
			ModifiedUTC string `json:"modified_utc"`
			Verdict     string `json:"verdict"`
			Sentence    string `json:"sentence"`
		} `json:"subs"`
	}
	if err := json.NewDecoder(io.LimitReader(r, maxNight)).Decode(&night); err != nil {
		return nil, fmt.Errorf("not a night.json: %w", err)
	}
	if night.SchemaVersion != 1 {
		return nil, fmt.Errorf("night.json has schema version %d, this program reads 1", night.SchemaVersion)
	}
	out := make([]Sub, 0, len(night.Subs))
	for i, s := range night.Subs {
		modified, err := time.Parse(time.RFC3339Nano, s.ModifiedUTC)
		if err != nil {
			return nil, fmt.Errorf("night.json: sub %d: modified_utc: %w", i, err)
		}
		switch s.Verdict {
		case "keep", "doubtful", "cull":
		default:
			return nil, fmt.Errorf("night.json: sub %d: unknown verdict %q", i, s.Verdict)
		}
		path := s.Path
		if len(s.PathBytes) > 0 { // a path that is no valid UTF-8
			path = string(s.PathBytes)
		}
		out = append(out, Sub{path, s.SizeBytes, modified, s.Verdict, s.Sentence})
	}
	return out, nil
}
