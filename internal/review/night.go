package review

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"

	"fitsqa/internal/cull"
	"fitsqa/internal/outdir"
)

type sub struct {
	cull.Sub
	Group     string
	Target    string
	Exposure  float64   // s, NaN when not known
	Weight    float64   // NaN when not known
	EPerADU   float64   // NaN when not known
	Camera    string    // as in the camera's figures
	Transform []float64 // A to F of X = A x + B y + C, Y = D x + E y + F in the frame all of its target share; nil when not aligned
	North     float64   // degrees from +x counter-clockwise, y up the rows as stored; NaN without a plate solution
	East      float64   // likewise
}

type nightFiles struct {
	roots      []string // the folders that were analysed
	subs       []sub
	saturation map[string]float64 // ADU, by camera
}

// document is what a review needs of night.json beside what culling reads of it.
type document struct {
	Subs []struct {
		Group     string   `json:"group"`
		Target    string   `json:"target"`
		ExposureS *float64 `json:"exposure_s"`
		Camera    string   `json:"camera"`
		EPerADU   *float64 `json:"e_per_adu"`
		Measures  map[string]struct {
			Value *float64 `json:"value"`
		} `json:"measures"`
		Alignment struct {
			Transform []float64 `json:"transform"`
		} `json:"alignment"`
	} `json:"subs"`
	Field []struct {
		Target   string `json:"target"`
		Camera   string `json:"camera"`
		Mirrored bool   `json:"mirrored"`
	} `json:"field"`
	Calibration []struct {
		Kind    string `json:"kind"`
		Camera  string `json:"camera"`
		Metrics []struct {
			Metric string   `json:"metric"`
			Value  *float64 `json:"value"`
		} `json:"metrics"`
	} `json:"calibration"`
}

// sub is the one of a number, with its file.
func (d *document) sub(i int, file cull.Sub) sub {
	m := d.Subs[i]
	s := sub{Sub: file, Group: m.Group, Target: m.Target, Exposure: orNaN(m.ExposureS), Camera: m.Camera, EPerADU: orNaN(m.EPerADU),
		Weight: orNaN(m.Measures["weight"].Value)}
	mirrored := false
	for _, p := range d.Field {
		mirrored = mirrored || p.Mirrored && p.Target == m.Target && p.Camera == m.Camera
	}
	s.North, s.East = compass(orNaN(m.Measures["position_angle_deg"].Value), mirrored)
	if t := m.Alignment.Transform; len(t) == 6 {
		s.Transform = t
	}
	return s
}

func (d *document) saturation() map[string]float64 {
	of := map[string]float64{}
	for _, set := range d.Calibration {
		for _, m := range set.Metrics {
			if set.Kind == "camera" && m.Metric == "saturation_adu" && m.Value != nil {
				of[set.Camera] = *m.Value
			}
		}
	}
	return of
}

// maxNight bounds what is read of a night.json, bytes.
const maxNight = 1 << 30

func readNight(dir string) (*nightFiles, error) {
	f, err := outdir.OpenNight(dir)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	files, roots, err := cull.ReadNight(f)
	if err != nil {
		return nil, err
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return nil, err
	}
	var more document
	if err := json.NewDecoder(io.LimitReader(f, maxNight)).Decode(&more); err != nil {
		return nil, fmt.Errorf("not a night.json: %w", err)
	}
	if len(more.Subs) != len(files) {
		return nil, errors.New("night.json changed while it was read")
	}
	n := &nightFiles{roots: roots, saturation: more.saturation()}
	for i := range more.Subs {
		n.subs = append(n.subs, more.sub(i, files[i]))
	}
	return n, nil
}

// compass is where north and east lie in a frame, degrees from +x
// counter-clockwise, by the position angle of +y (degrees from north through
// east). On the sky east lies counter-clockwise of north; in a mirrored frame
// clockwise.
func compass(positionAngle float64, mirrored bool) (north, east float64) {
	turn := 1.0
	if mirrored {
		turn = -1
	}
	north = 90 - turn*positionAngle
	return north, north + turn*90
}

func orNaN(v *float64) float64 {
	if v == nil {
		return math.NaN()
	}
	return *v
}

func (n *nightFiles) files() []cull.Sub {
	out := make([]cull.Sub, len(n.subs))
	for i, s := range n.subs {
		out[i] = s.Sub
	}
	return out
}

// Errors that tell why a frame is not shown.
var (
	errGone    = errors.New("the file is not there any more")
	errChanged = errors.New("the file changed since the analysis: check the night again")
)

// place is where a sub's file is now: where it was, or where a cull moved it.
// A file that is not the one that was analysed is an error.
func (s sub) place() (path string, moved bool, err error) {
	aside := filepath.Join(filepath.Dir(s.Path), cull.Folder, filepath.Base(s.Path))
	path = s.Path
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		path, moved = aside, true
		info, err = os.Stat(path)
	}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return "", false, errGone
	case err != nil:
		if pe, ok := errors.AsType[*fs.PathError](err); ok {
			err = pe.Err
		}
		return "", false, fmt.Errorf("the file cannot be read: %w", err)
	case !info.Mode().IsRegular() || info.Size() != s.Size || !info.ModTime().Equal(s.Modified):
		return "", false, errChanged
	}
	return path, moved, nil
}
