package calib

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"

	"github.com/astrogo/fitsio"

	"fitsqa/internal/sensor"
	"fitsqa/internal/stack"
)

// MasterPrefix and DefectPrefix begin the names of the files of WriteMasters.
const (
	MasterPrefix = "master_"
	DefectPrefix = "defects_"
)

// WriteMasters writes the master of every measured set of bias frames, darks and
// flats into a folder that is there, and the defects of every camera as a mask and
// as a list; existing files are never replaced. Bias and dark are in ADU with the
// offset in them, flats have theirs taken off and their mean is 1. It returns the
// names of the files. The Result must be of Analyse, not of Restore.
func (r *Result) WriteMasters(dir, program string) (names []string, err error) {
	a := r.analysis
	if a == nil {
		return nil, errors.New("the masters are not in memory")
	}
	taken := map[string]bool{}
	write := func(name string, write func(io.Writer) error) {
		if err == nil {
			err = writeNew(filepath.Join(dir, name), write)
			names = append(names, name)
		}
	}
	for _, s := range r.Sets {
		if s.Group == nil || a.cameras.MadeOf(s.Group) == nil {
			continue
		}
		a.mu.Lock()
		m := a.masterOf(s.Group)
		a.mu.Unlock()
		if m == nil {
			return names, fmt.Errorf("%s: its master cannot be read back", s.Label)
		}
		write(sensor.UniqueLabel(taken, MasterPrefix+FileStem(s.Label))+".fits", func(w io.Writer) error {
			return writeImage(w, -32, s.Group, m, a.masterCards(s, program))
		})
	}
	for _, d := range a.defects(r.Sets) {
		stem := sensor.UniqueLabel(taken, DefectPrefix+FileStem(d.mode.Label()))
		write(stem+".fits", d.writeMask)
		write(stem+".csv", d.writeList)
	}
	return names, err
}

// masterCards are what a master's header tells: what it is, of which frames, with
// which settings. Times and temperature are those of the first frame and the median.
func (a *analysis) masterCards(s *sensor.Set, program string) []fitsio.Card {
	made, g := a.cameras.MadeOf(s.Group), s.Group
	first := made[0].Meta
	h := &header{}
	h.text("IMAGETYP", map[string]string{"bias": "Master Bias", "dark": "Master Dark", "flat": "Master Flat"}[s.Kind], "")
	h.cards = append(h.cards, fitsio.Card{Name: "NCOMBINE", Value: len(made), Comment: "frames that it is made of"})
	if s.Kind == "flat" {
		h.cards = append(h.cards, fitsio.Card{Name: "BUNIT", Value: "", Comment: "none: relative to the mean of the frame"})
	} else {
		h.text("BUNIT", "adu", "")
	}
	if !first.Start.IsZero() {
		h.text("DATE-OBS", first.Start.UTC().Format("2006-01-02T15:04:05.000"), "UTC, start of the first frame")
	}
	h.number("EXPTIME", g.Exposure, "[s]")
	h.text("INSTRUME", string(g.Camera), "")
	h.text("TELESCOP", first.Telescope, "")
	h.number("FOCALLEN", first.FocalLength, "[mm]")
	if s.Kind == "flat" {
		h.text("FILTER", string(g.Filter), "")
		angle := "ROTATANG"
		if g.Rotation().OnSky {
			angle = "ROTPA"
		}
		h.number(angle, g.Rotation().Degrees, "[deg]")
	}
	h.number("XPIXSZ", first.PixelSize, "[um]")
	h.number("XBINNING", float64(g.BinX), "")
	h.number("YBINNING", float64(g.BinY), "")
	h.number("GAIN", g.GainSetting, "the camera's own number")
	h.number("OFFSET", g.OffsetSetting, "the camera's own number")
	h.text("READOUTM", string(g.ReadoutMode), "")
	h.number("SET-TEMP", g.SetTemp, "[deg C]")
	h.number("CCD-TEMP", sensor.TemperatureOf(g), "[deg C] median")
	h.text("BAYERPAT", first.Bayer, "of the first pixel")
	if m := a.cameras.Readout(g); m.Gain.OK() {
		h.number("EGAIN", m.Gain.V, "[e-/ADU] "+m.GainFrom)
		h.number("RDNOISE", m.Electrons.V, "[e-]")
	}
	h.text("CREATOR", program, "")
	h.history(fmt.Sprintf("mean of %d frames, samples beyond %d sigma left out", len(made), stack.RejectSigma))
	if s.Kind == "flat" {
		h.history("offset taken off, scaled to one level")
	}
	for _, f := range made {
		h.history(f.Name)
	}
	return h.cards
}
