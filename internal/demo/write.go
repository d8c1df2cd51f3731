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

// job is one frame to be made.
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

	cam := lumen
	if sc.Lens != nil {
		cam.FocalMM, cam.ApertureMM = sc.Lens.FocalMM, sc.Lens.ApertureMM
	}
	if sc.Hot > 0 {
		cam.HotFraction *= sc.Hot
	}
	s := newSensor(cam, sc.Width, sc.Height, sc.Seed)
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

// vacant tells whether a night may be written to dir.
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

// jobs lists every frame of the night. Calibration frames were shot around
// noon of the day after, flats in the morning.
func jobs(sc Scenario, cam Camera, list []*scene) []job {
	var all []job
	noon := sc.Start.Truncate(24 * time.Hour).Add(36 * time.Hour)
	clock := noon
	next := func(exposure float64) time.Time {
		t := clock
		clock = clock.Add(time.Duration(exposure*float64(time.Second)) + 2*time.Second)
		return t
	}
	temp := func(name string, set float64) float64 { // the sensor holds its temperature to a tenth of a degree
		return set + math.Round(source(sc.Seed, "temperature "+name).NormFloat64()*0.6)/10
	}
	for n := range sc.Bias {
		file := fmt.Sprintf("bias/bias_%03d.fits", n+1)
		all = append(all, job{
			file:   file,
			cards:  cam.common("Bias Frame", next(0), 0, coldC, temp(file, coldC)),
			render: func(r *renderer) []uint16 { return r.unlit(coldC, 0, source(sc.Seed, file)) },
		})
	}
	for _, d := range sc.Darks {
		for n := range d.Frames {
			file := fmt.Sprintf("darks/dark_%gs_%+gC_%03d.fits", d.Exposure, d.TempC, n+1)
			all = append(all, job{
				file:   file,
				cards:  cam.common("Dark Frame", next(d.Exposure), d.Exposure, d.TempC, temp(file, d.TempC)),
				render: func(r *renderer) []uint16 { return r.unlit(d.TempC, d.Exposure, source(sc.Seed, file)) },
			})
		}
	}
	clock = noon.Add(-4 * time.Hour)
	for _, filter := range sc.filters() {
		for _, level := range sc.FlatLevels {
			for n := range 2 {
				file := fmt.Sprintf("flats/flat_%s_%02.0f_%d.fits", filter, 100*level, n+1)
				exposure := flatExposure(level)
				all = append(all, job{
					file:  file,
					cards: append(cam.common("Flat Frame", next(exposure), exposure, coldC, temp(file, coldC)), cam.telescope(filter)...),
					render: func(r *renderer) []uint16 {
						return r.flat(filter, level, exposure, coldC, source(sc.Seed, file))
					},
				})
			}
		}
	}
	for _, s := range list {
		sensor := temp(s.File, s.sensorC)
		all = append(all, job{
			file:   s.File,
			cards:  s.cards(sc, cam, sensor),
			render: func(r *renderer) []uint16 { return r.sub(s, sensor, source(sc.Seed, s.File)) },
		})
	}
	return all
}

// cards are the header of a sub, without those that the scenario leaves out.
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

// without are the cards less those of some names.
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
