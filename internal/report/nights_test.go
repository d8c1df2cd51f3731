package report

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/gob"
	"errors"
	"flag"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"fitsqa/internal/calib"
	"fitsqa/internal/demo"
	"fitsqa/internal/dust"
	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/plan"
	"fitsqa/internal/say"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
	"fitsqa/internal/worth"
)

var record = flag.Bool("record", false, "measure the recorded nights anew")

// recorded is what the first screen is made from: the result of a night, without
// pictures, pixels and files.
type recorded struct {
	Frames      []recordedFrame
	Subs        []*subs.Sub
	Verdicts    subs.Result // groups without their subs
	Plan        *plan.Plan
	Worth       []worth.Answer
	MasterWorth []worth.Master
	Dust        []dust.Match
	Sets        []recordedSet
	Before      []fact.Fact // what must be read before anything else
	Warned      []fact.Fact
	Local       night.LocalTime
}

// recordedSet is a calibration set with what the first screen needs of it.
type recordedSet struct {
	Label, Kind string
	Group       *frames.Group
	Metrics     []recordedFigure
	Warnings    []string // the first screen counts them
}

type recordedFigure struct {
	Name  string
	Value stats.Value
}

// set is the calibration set again.
func (rec recordedSet) set() *sensor.Set {
	s := sensor.NewSet(rec.Kind, stats.NotMeasured)
	s.Label, s.Group, s.Warnings = rec.Label, rec.Group, make([]fact.Fact, len(rec.Warnings))
	for _, m := range rec.Metrics {
		*s.Figure(m.Name) = sensor.Figure{Value: m.Value}
	}
	return s
}

type recordedFrame struct {
	Name    string
	Kind    frames.Kind
	Master  bool
	Err     string
	Systems bool // the error is the system's
}

const recordedNights = "testdata/nights"

// sharedSets are folders of real frames outside of the repository.
var sharedSets = []string{"field-a", "camera-b", "mosaic", "sky", "formats"}

// reduce keeps of a result what is recorded.
func reduce(r *night.Result) *recorded {
	out := &recorded{Plan: r.Plan, Worth: r.Worth, MasterWorth: r.MasterWorth, Dust: r.Dust, Before: r.First, Warned: r.Warnings, Local: r.Local}
	for _, f := range r.Frames {
		rec := recordedFrame{Name: f.Name, Kind: f.Kind, Master: f.Master}
		if f.Err != nil {
			rec.Err, rec.Systems = f.Err.Error(), frames.SystemError(f.Err)
		}
		out.Frames = append(out.Frames, rec)
	}
	for _, s := range r.Subs {
		c := *s.Sub
		c.Align.Pairs = nil
		if f := s.Field; f != nil {
			c.Field = &stars.Field{FWHM: f.FWHM, HFD: f.HFD, Ellipticity: f.Ellipticity, Angle: f.Angle, Coherence: f.Coherence, Count: f.Count}
		}
		out.Subs = append(out.Subs, &c)
	}
	if r.Verdicts != nil {
		out.Verdicts = *r.Verdicts
		out.Verdicts.Groups = nil
		for _, g := range r.Verdicts.Groups {
			c := *g
			c.Subs = nil
			out.Verdicts.Groups = append(out.Verdicts.Groups, &c)
		}
	}
	if r.Calib != nil && len(r.Subs) == 0 {
		for _, s := range r.Calib.Sets {
			c := recordedSet{Label: s.Label, Kind: s.Kind, Warnings: say.SetWarnings(s)}
			for _, m := range s.Metrics() {
				c.Metrics = append(c.Metrics, recordedFigure{m.Name, m.Value})
			}
			if s.Group != nil {
				c.Group = &frames.Group{Exposure: s.Group.Exposure, Frames: make([]*frames.Frame, len(s.Group.Frames))}
				for i := range c.Group.Frames {
					c.Group.Frames[i] = &frames.Frame{}
				}
			}
			out.Sets = append(out.Sets, c)
		}
	}
	return out
}

// result makes a result of a record again.
func (rec *recorded) result() *night.Result {
	var sets []*sensor.Set
	for _, s := range rec.Sets {
		sets = append(sets, s.set())
	}
	r := &night.Result{Plan: rec.Plan, Worth: rec.Worth, MasterWorth: rec.MasterWorth, Dust: rec.Dust, First: rec.Before, Warnings: rec.Warned,
		Local: rec.Local, Verdicts: &rec.Verdicts, Calib: &calib.Result{Sets: sets}, Folder: "OUT"}
	of := map[string]*frames.Frame{}
	for _, f := range rec.Frames {
		frame := &frames.Frame{Name: f.Name, Kind: f.Kind, Master: f.Master}
		switch {
		case f.Systems:
			frame.Err = errors.New(f.Err)
		case f.Err != "":
			frame.Err = &frames.UnsupportedError{Feature: strings.TrimPrefix(f.Err, "not supported: ")}
		}
		r.Frames, of[f.Name] = append(r.Frames, frame), frame
	}
	for _, s := range rec.Subs {
		r.Subs = append(r.Subs, &night.Sub{Sub: s, Frame: of[s.File]})
		for _, g := range rec.Verdicts.Groups {
			if g.Stack == s.Stack {
				g.Subs = append(g.Subs, s)
			}
		}
	}
	return r
}

// trade are names of real surveys and people that headers of real frames hold.
var trade = strings.NewReplacer("PTF_survey", "survey 1", "Mette", "planet 1", "kelt-16-b", "planet 2")

// clean takes such names out of every text.
func clean(v reflect.Value) {
	switch v.Kind() {
	case reflect.Pointer, reflect.Interface:
		if !v.IsNil() {
			clean(v.Elem())
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Field(i).CanSet() {
				clean(v.Field(i))
			}
		}
	case reflect.Slice:
		for i := range v.Len() {
			clean(v.Index(i))
		}
	case reflect.String:
		v.SetString(trade.Replace(v.String()))
	}
}

// TestRecordNights measures nights of the demo and folders of real frames, and writes
// what the tests of the first screen work on. It takes minutes.
func TestRecordNights(t *testing.T) {
	if !*record {
		t.Skip("only with -record")
	}
	folders := map[string][]string{}
	dir := t.TempDir()
	for _, sc := range append([]demo.Scenario{demo.Default}, demo.Nights()...) {
		folder := filepath.Join(dir, sc.Name)
		if _, err := demo.Write(context.Background(), folder, sc, nil); err != nil {
			t.Fatal(err)
		}
		folders[sc.Name] = []string{folder}
	}
	folders["two-nights"] = []string{folders["moonrise"][0], folders["cloudy"][0]}
	for _, name := range sharedSets {
		folder := filepath.Join("../../../shared/data", name)
		if _, err := os.Stat(folder); err == nil {
			folders[name] = []string{folder}
		}
	}
	for name, roots := range folders {
		r, err := night.Run(context.Background(), roots, night.DefaultSettings(), nil)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		rec := reduce(r)
		clean(reflect.ValueOf(rec))
		var b bytes.Buffer
		z := gzip.NewWriter(&b)
		if err := errors.Join(gob.NewEncoder(z).Encode(rec), z.Close(), os.WriteFile(filepath.Join(recordedNights, name+".gob.gz"), b.Bytes(), 0o644)); err != nil {
			t.Error(err)
		}
	}
}

// eachNight runs a test on every recorded night.
func eachNight(t *testing.T, test func(t *testing.T, name string, r *night.Result)) {
	all, err := filepath.Glob(recordedNights + "/*.gob.gz")
	if err != nil || len(all) < 18 {
		t.Fatalf("%d recorded nights, %v", len(all), err)
	}
	for _, file := range all {
		name := strings.TrimSuffix(filepath.Base(file), ".gob.gz")
		t.Run(name, func(t *testing.T) {
			b, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			z, err := gzip.NewReader(bytes.NewReader(b))
			if err != nil {
				t.Fatal(err)
			}
			var rec recorded
			if err := gob.NewDecoder(z).Decode(&rec); err != nil {
				t.Fatal(err)
			}
			test(t, name, rec.result())
		})
	}
}

// The first screens of the demo's nights, of two nights in one and of folders of
// real frames stay as they were read and mended.
func TestFirstScreens(t *testing.T) {
	eachNight(t, func(t *testing.T, name string, r *night.Result) {
		var b bytes.Buffer
		if err := Screen(&b, r, "OUT", int(fullPaper)); err != nil {
			t.Fatal(err)
		}
		golden := filepath.Join(recordedNights, name+".txt")
		if *update {
			if err := os.WriteFile(golden, b.Bytes(), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(golden)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(string(want), b.String()); diff != "" {
			t.Errorf("differs from %s (-want +got):\n%s", golden, diff)
		}
	})
}
