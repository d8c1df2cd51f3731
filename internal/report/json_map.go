package report

import "fitsqa/internal/stars"

type mapJSON struct {
	Cols  int        `json:"cols"`
	Rows  int        `json:"rows"`
	Cells []cellJSON `json:"cells"`
}

type cellJSON struct {
	X           real `json:"x_px"`
	Y           real `json:"y_px"`
	Stars       int  `json:"stars"`
	FWHM        real `json:"fwhm_px"`
	Ellipticity real `json:"ellipticity"`
	Angle       real `json:"elongation_angle_deg"`
}

func newMapJSON(m stars.Map) mapJSON {
	j := mapJSON{Cols: m.Cols, Rows: m.Rows, Cells: []cellJSON{}}
	for _, c := range m.Cells {
		j.Cells = append(j.Cells, cellJSON{real(c.X), real(c.Y), c.Stars, real(c.FWHM), real(c.Ellipticity), real(c.Angle)})
	}
	return j
}
