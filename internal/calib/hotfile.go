package calib

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/astrogo/fitsio"

	"fitsqa/internal/sensor"
)

var errNoDark = errors.New("the set has no measured darks")

// WriteHotCSV writes a dark set's hot pixels, one a line: position from 0,0
// and rate, in e-/s or, where the gain is not known, in ADU/s. They are all of
// them when Options.Maps was set, else the hottest.
func WriteHotCSV(w io.Writer, s *sensor.Set) error {
	if s.Dark == nil || !s.Measured {
		return errNoDark
	}
	b := bufio.NewWriter(w)
	unit := strings.NewReplacer("e-", "e", "/", "_per_").Replace(s.Dark.RateUnit)
	fmt.Fprintf(b, "x,y,rate_%s\n", strings.ToLower(unit))
	for _, p := range s.Dark.Hot {
		fmt.Fprintf(b, "%d,%d,%.6g\n", p.X, p.Y, p.Rate)
	}
	return b.Flush()
}

// WriteMaskFITS writes all hot pixels of a dark set as an 8-bit FITS image of
// the frames' size: 1 where a pixel is hot, 0 elsewhere.
func WriteMaskFITS(w io.Writer, s *sensor.Set) error {
	if s.Dark == nil || !s.Measured || s.Group == nil {
		return errNoDark
	}
	mask := make([]byte, s.Group.Width*s.Group.Height)
	for _, p := range s.Dark.Hot {
		mask[p.Y*s.Group.Width+p.X] = 1
	}
	if err := writeImage(w, 8, s.Group, mask, []fitsio.Card{{Name: "CONTENT", Value: "hot pixels", Comment: "1: hot"}}); err != nil {
		return fmt.Errorf("mask of hot pixels: %w", err)
	}
	return nil
}
