package cull

import (
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"time"
)

// Sub is what culling needs to know of an analysed sub.
type Sub struct {
	Name     string // as in the reports
	Path     string // absolute
	Size     int64  // bytes
	Modified time.Time
	Filter   string
	Verdict  string   // of the figures: "keep", "doubtful" or "cull"
	Causes   []string // leading cause first
	Sentence string   // why
	Told     bool     // the sentence begins with a verdict of the user's own, which the check knew
	Unclear  string   // why night.json does not tell enough to move it; "" when it does
	Decision string   // the user's own verdict, "keep" or "cull"; "" when there is none. ReadNight leaves it empty.
}

// Final is the verdict that counts: the user's own, else that of the figures.
func (s Sub) Final() string {
	if s.Decision != "" {
		return s.Decision
	}
	return s.Verdict
}

// Why is what the verdict that counts rests on.
func (s Sub) Why() string {
	switch {
	case s.Decision == "", s.Told:
		return s.Sentence
	case s.Sentence == "":
		return "your decision"
	}
	return "your decision; measured: " + s.Sentence
}

// maxNight bounds what is read of a night.json, bytes: some 10 kB a sub.
const maxNight = 1 << 30

// ReadNight takes the subs from a night.json. Other fields are ignored, so
// that a file of a newer minor version still serves; another schema version is
// an error.
func ReadNight(r io.Reader) (subs []Sub, roots []string, err error) {
	var night struct {
		SchemaVersion int      `json:"schema_version"`
		Roots         []string `json:"roots"`
		Subs          []struct {
			Name        string   `json:"name"`
			Path        string   `json:"path"`
			PathBytes   []byte   `json:"path_bytes"`
			SizeBytes   int64    `json:"size_bytes"`
			ModifiedUTC string   `json:"modified_utc"`
			Filter      string   `json:"filter"`
			Verdict     string   `json:"verdict"`
			Measured    string   `json:"measured_verdict"`
			Causes      []string `json:"causes"`
			Sentence    string   `json:"sentence"`
			Decided     bool     `json:"user_decision"`
		} `json:"subs"`
	}
	if err := json.NewDecoder(io.LimitReader(r, maxNight)).Decode(&night); err != nil {
		return nil, nil, fmt.Errorf("not a night.json: %w", err)
	}
	if night.SchemaVersion != 1 && night.SchemaVersion != 2 { // the second knows one verdict more
		return nil, nil, fmt.Errorf("night.json has schema version %d, this program reads 1 and 2", night.SchemaVersion)
	}
	out := make([]Sub, 0, len(night.Subs))
	for i, s := range night.Subs {
		unclear := ""
		modified, err := time.Parse(time.RFC3339Nano, s.ModifiedUTC)
		if err != nil { // a file that was gone by then, or a time beyond the year 9999
			unclear = "night.json does not tell when it was last changed, so that nothing shows whether it is still the file that was analysed"
		}
		verdict := s.Verdict
		if s.Measured != "" { // the user's own verdicts stand in the decision file
			verdict = s.Measured
		}
		switch verdict {
		case "keep", "doubtful", "cull", notJudged:
		default:
			return nil, nil, fmt.Errorf("night.json: sub %d: unknown verdict %q", i, verdict)
		}
		path := s.Path
		if len(s.PathBytes) > 0 { // a path that is no valid UTF-8
			path = string(s.PathBytes)
		}
		out = append(out, Sub{Name: s.Name, Path: path, Size: s.SizeBytes, Modified: modified, Filter: s.Filter,
			Verdict: verdict, Causes: s.Causes, Sentence: s.Sentence, Told: s.Decided, Unclear: unclear})
	}
	slices.Sort(night.Roots)
	return out, night.Roots, nil
}
