package calib

import (
	"cmp"
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"

	"github.com/astrogo/fitsio"

	"fitsqa/internal/frames"
	"fitsqa/internal/sensor"
)

// The defects of a pixel, as bits of the mask.
const (
	hotBit       = 1
	deadBit      = 2
	telegraphBit = 4
)

// defects are the pixels of a camera's mode that cannot be trusted.
type defects struct {
	mode   sensor.Mode
	group  *frames.Group // one of its sets, for the size
	mask   []byte
	listed []defect
}

// defect is why one pixel is listed, by one set.
type defect struct {
	pixel  int32
	kind   string
	figure float64 // rate of a hot pixel, response of a dead one, sd in ADU of a telegraph one
	set    string
}

// defects finds those of every camera that has bias frames, darks or flats: hot
// pixels of every dark set, dead ones of every flat set, telegraph ones of bias
// sets. Cameras without any have no map.
func (a *analysis) defects(sets []*sensor.Set) []*defects {
	var all []*defects
	of := func(g *frames.Group) *defects {
		m := sensor.ModeOf(g)
		for _, d := range all {
			if d.mode.Same(m) && d.group.Width == g.Width && d.group.Height == g.Height {
				return d
			}
		}
		all = append(all, &defects{mode: m, group: g, mask: make([]byte, g.Width*g.Height)})
		return all[len(all)-1]
	}
	for _, s := range sets {
		switch {
		case !s.Measured:
		case s.Dark != nil:
			d := of(s.Group)
			for _, p := range s.Dark.Hot {
				d.add(int32(p.Y*s.Group.Width+p.X), hotBit, defect{kind: "hot", figure: p.Rate, set: s.Label})
			}
		case s.Flat != nil:
			d := of(s.Group)
			for _, p := range s.Flat.Dead {
				d.add(int32(p.Y*s.Group.Width+p.X), deadBit, defect{kind: "dead", figure: p.Response, set: s.Label})
			}
		case s.Bias != nil:
			d := of(s.Group)
			for _, p := range a.cameras.Telegraph(s.Group) {
				d.add(p.Index, telegraphBit, defect{kind: "telegraph", figure: p.ADU, set: s.Label})
			}
		}
	}
	for _, d := range all {
		slices.SortStableFunc(d.listed, func(x, y defect) int { return cmp.Compare(x.pixel, y.pixel) })
	}
	return all
}

func (d *defects) add(pixel int32, bit byte, why defect) {
	why.pixel = pixel
	d.mask[pixel] |= bit
	d.listed = append(d.listed, why)
}

// writeMask writes an 8-bit image: the sum of 1 for hot, 2 for dead, 4 for
// telegraph pixels.
func (d *defects) writeMask(w io.Writer) error {
	return writeImage(w, 8, d.group, d.mask, []fitsio.Card{
		{Name: "IMAGETYP", Value: "Bad Pixel Map"},
		{Name: "INSTRUME", Value: ascii(string(d.group.Camera))},
		{Name: "CONTENT", Value: "defects", Comment: "1: hot, 2: dead, 4: telegraph; sums of them"},
	})
}

// writeList writes one line a pixel and set: x and y from 0,0, up the rows as stored.
func (d *defects) writeList(w io.Writer) error {
	table := csv.NewWriter(w)
	_ = table.Write([]string{"x", "y", "defect", "figure", "set"}) // Error tells of all
	for _, l := range d.listed {
		x, y := int(l.pixel)%d.group.Width, int(l.pixel)/d.group.Width
		_ = table.Write([]string{strconv.Itoa(x), strconv.Itoa(y), l.kind, fmt.Sprintf("%.6g", l.figure), frames.Printable(l.set)})
	}
	table.Flush()
	return table.Error()
}
