package demo

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/astrogo/fitsio"
	"golang.org/x/sync/errgroup"

	"fitsqa/internal/outdir"
)

const (
	coldC   = -10.0 // °C at which bias, flats and subs are shot
	workers = 2
)

type job struct {
	file   string
	cards  []fitsio.Card
	render func(*renderer) []uint16
}

// TruthPath is where the truth of the night in dir is written: beside it.
func TruthPath(dir string) string { return filepath.Clean(dir) + ".truth.json" }

// Write makes a night: the frames in dir, their truth in TruthPath(dir). It
// refuses to touch a folder that holds anything, and leaves nothing behind when
// it fails or ctx ends. progress may be nil; it is called from one goroutine at
// a time.
func Write(ctx context.Context, dir string, sc Scenario, progress func(done, total int)) (*Truth, error) {
	dir = filepath.Clean(dir)
	if err := vacant(dir); err != nil {
		return nil, err
	}
	parent := filepath.Dir(dir)
	if err := os.MkdirAll(parent, 0o777); err != nil {
		return nil, err
	}
	partial, done, err := outdir.Hidden(parent)
	if err != nil {
		return nil, err
	}
	defer done()
	night, truthFile := filepath.Join(partial, "night"), filepath.Join(partial, "truth")

	s := newSensor(sc.camera(), sc.Width, sc.Height, sc.Seed)
	s.bayer = sc.Bayer
	flats, panels := map[string][]float32{}, map[string][]float32{}
	for _, f := range sc.filters() {
		flats[f] = s.flatField(f, sc.Seed, [2]float64{})
		panels[f] = flats[f]
		if sc.FlatShift != [2]float64{} {
			panels[f] = s.flatField(f, sc.Seed, sc.FlatShift)
		}
	}
	list := scenes(sc, s.Camera)
	if err := makeFrames(ctx, night, jobs(sc, s.Camera, list), s, flats, panels, progress); err != nil {
		return nil, err
	}

	truth := newTruth(sc, s, list)
	text, err := json.MarshalIndent(truth, "", "  ")
	if err != nil {
		return nil, err
	}
	if err := os.WriteFile(truthFile, append(text, '\n'), 0o666); err != nil {
		return nil, err
	}
	// An empty folder is in the way of the rename; a full one stops Remove.
	if err := os.Remove(dir); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	if err := os.Rename(night, dir); err != nil {
		return nil, err
	}
	return truth, os.Rename(truthFile, TruthPath(dir))
}

func (sc Scenario) camera() Camera {
	cam := lumen
	if sc.Lens != nil {
		cam.FocalMM, cam.ApertureMM = sc.Lens.FocalMM, sc.Lens.ApertureMM
	}
	if sc.Hot > 0 {
		cam.HotFraction *= sc.Hot
	}
	return cam
}

func vacant(dir string) error {
	if _, err := os.Lstat(TruthPath(dir)); !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s is there already: name another folder", TruthPath(dir))
	}
	entries, err := os.ReadDir(dir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if len(entries) > 0 {
		return fmt.Errorf("%s is not empty: name another folder", dir)
	}
	return nil
}

// makeFrames renders and writes every job.
func makeFrames(ctx context.Context, root string, all []job, s *sensor, flats, panels map[string][]float32, progress func(done, total int)) error {
	g, ctx := errgroup.WithContext(ctx)
	queue, done := make(chan job), make(chan struct{})
	g.Go(func() error {
		defer close(queue)
		for _, j := range all {
			select {
			case queue <- j:
			case <-ctx.Done():
				return ctx.Err()
			}
		}
		return nil
	})
	for range workers {
		g.Go(func() error {
			r := newRenderer(s, flats, panels)
			for j := range queue {
				if err := writeFrame(filepath.Join(root, filepath.FromSlash(j.file)), s.w, s.h, j.render(r), j.cards); err != nil {
					return err
				}
				select {
				case done <- struct{}{}:
				case <-ctx.Done():
					return ctx.Err()
				}
			}
			return nil
		})
	}
	g.Go(func() error {
		for n := 1; n <= len(all); n++ {
			select {
			case <-done:
				if progress != nil {
					progress(n, len(all))
				}
			case <-ctx.Done():
				return ctx.Err()
			}
		}
		return nil
	})
	return g.Wait()
}

func writeFrame(path string, w, h int, pixels []uint16, cards []fitsio.Card) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		return err
	}
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	buffer := bufio.NewWriterSize(f, 1<<20)
	return errors.Join(encode(buffer, w, h, pixels, cards), buffer.Flush(), f.Close())
}

type schedule struct {
	Scenario
	cam   Camera
	clock time.Time // of the next calibration frame
	jobs  []job
}

// jobs lists every frame of the night. Calibration frames were shot around
// noon of the day after, flats in the morning.
func jobs(sc Scenario, cam Camera, list []*scene) []job {
	noon := sc.Start.Truncate(24 * time.Hour).Add(36 * time.Hour)
	s := &schedule{Scenario: sc, cam: cam, clock: noon}
	for n := range sc.Bias {
		s.unlit("Bias Frame", fmt.Sprintf("bias/bias_%03d.fits", n+1), 0, coldC)
	}
	for _, d := range sc.Darks {
		for n := range d.Frames {
			s.unlit("Dark Frame", fmt.Sprintf("darks/dark_%gs_%+gC_%03d.fits", d.Exposure, d.TempC, n+1), d.Exposure, d.TempC)
		}
	}
	s.clock = noon.Add(-4 * time.Hour)
	for _, filter := range sc.filters() {
		for _, level := range sc.FlatLevels {
			for n := range 2 {
				s.flat(fmt.Sprintf("flats/flat_%s_%02.0f_%d.fits", filter, 100*level, n+1), filter, level)
			}
		}
	}
	for _, one := range list {
		sensor := s.sensor(one.File, one.sensorC)
		s.jobs = append(s.jobs, job{
			file:   one.File,
			cards:  one.cards(sc, cam, sensor),
			render: func(r *renderer) []uint16 { return r.sub(one, sensor, source(sc.Seed, one.File)) },
		})
	}
	return s.jobs
}

func (s *schedule) unlit(kind, file string, exposure, tempC float64) {
	s.jobs = append(s.jobs, job{
		file:   file,
		cards:  s.cam.common(kind, s.next(exposure), exposure, tempC, s.sensor(file, tempC)),
		render: func(r *renderer) []uint16 { return r.unlit(tempC, exposure, source(s.Seed, file)) },
	})
}

func (s *schedule) flat(file, filter string, level float64) {
	exposure := flatExposure(level)
	s.jobs = append(s.jobs, job{
		file:  file,
		cards: append(s.cam.common("Flat Frame", s.next(exposure), exposure, coldC, s.sensor(file, coldC)), s.cam.telescope(filter)...),
		render: func(r *renderer) []uint16 {
			return r.flat(filter, level, exposure, coldC, source(s.Seed, file))
		},
	})
}

// next is when a calibration frame begins, 2 s after the one before.
func (s *schedule) next(exposure float64) time.Time {
	t := s.clock
	s.clock = s.clock.Add(time.Duration(exposure*float64(time.Second)) + 2*time.Second)
	return t
}

// sensor is its temperature in a frame, °C: it is held to a tenth of a degree.
func (s *schedule) sensor(file string, set float64) float64 {
	return set + math.Round(source(s.Seed, "temperature "+file).NormFloat64()*0.6)/10
}

func (s *scene) cards(sc Scenario, cam Camera, sensorC float64) []fitsio.Card {
	cards := append(cam.common("Light Frame", s.Start, s.Exposure, s.setC, sensorC), cam.telescope(s.Filter)...)
	cards = append(cards, s.pointing()...)
	if sc.NoSite {
		cards = without(cards, "SITELAT", "SITELONG", "SITEELEV", "AIRMASS")
	}
	if sc.NoTime {
		cards = without(cards, "DATE-OBS")
	}
	if math.IsNaN(s.setC) {
		cards = without(cards, "SET-TEMP")
	}
	if sc.Bayer != "" {
		cards = append(cards, fitsio.Card{Name: "BAYERPAT", Value: sc.Bayer})
	}
	return cards
}

func without(cards []fitsio.Card, names ...string) []fitsio.Card {
	return slices.DeleteFunc(cards, func(c fitsio.Card) bool { return slices.Contains(names, c.Name) })
}

// flatExposure is the time that the flat panel needs, s: 2 s to saturation.
func flatExposure(level float64) float64 { return math.Round(2000*level) / 1000 }

func newTruth(sc Scenario, s *sensor, list []*scene) *Truth {
	t := &Truth{
		Scenario: sc.Name, Seed: sc.Seed, Frames: sc.frames(), Width: sc.Width, Height: sc.Height,
		Camera: s.Camera, PixelScale: s.scale(), Hot: s.hot,
	}
	seen := map[float64]bool{}
	for _, d := range sc.Darks {
		if !seen[d.TempC] {
			seen[d.TempC] = true
			t.DarkRates = append(t.DarkRates, s.darkRate(d.TempC))
		}
	}
	for _, filter := range sc.filters() {
		for _, level := range sc.FlatLevels {
			t.Flats = append(t.Flats, FlatTruth{Filter: filter, Level: level, Exposure: flatExposure(level)})
		}
	}
	for _, s := range list {
		t.Subs = append(t.Subs, s.Sub)
	}
	classify(t.Subs, t.PixelScale)
	return t
}
