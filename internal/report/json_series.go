package report

import (
	"time"

	"fitsqa/internal/say"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stack"
)

// seriesJSON is what the figures of a calibration set were measured from.
type seriesJSON struct {
	Levels   []levelJSON      `json:"levels"`
	Transfer []transferJSON   `json:"transfer"`
	Series   []darkSeriesJSON `json:"series"`
	Shadows  []shadowJSON     `json:"shadows"`
}

type levelJSON struct {
	File    string  `json:"file"`
	Start   *string `json:"start_utc"`
	TempC   real    `json:"sensor_temp_c"`
	Level   real    `json:"level_adu"`
	LeftOut bool    `json:"left_out"`
}

type transferJSON struct {
	Set      string `json:"set"`
	Exposure real   `json:"exposure_s"`
	Signal   real   `json:"signal_adu"`
	Variance real   `json:"variance_adu2"`
	Err      real   `json:"variance_err_adu2"`
	Gain     figure `json:"gain_e_per_adu"`
	Fitted   bool   `json:"fitted"`
}

type darkSeriesJSON struct {
	TempC     real            `json:"sensor_temp_c"`
	Bias      bool            `json:"above_bias"`
	Rate      figure          `json:"rate_adu_per_s"`
	ByNoise   figure          `json:"rate_by_noise_adu_per_s"`
	Intercept figure          `json:"intercept_adu"`
	Method    string          `json:"method"`
	Facts     []factJSON      `json:"facts"`
	Points    []darkPointJSON `json:"points"`
}

type darkPointJSON struct {
	Set      string `json:"set"`
	Exposure real   `json:"exposure_s"`
	Level    real   `json:"level_adu"`
	Err      real   `json:"level_err_adu"`
}

func newSeriesJSON(s *sensor.Set) seriesJSON {
	j := seriesJSON{[]levelJSON{}, []transferJSON{}, []darkSeriesJSON{}, []shadowJSON{}}
	switch {
	case s.Bias != nil:
		j.Levels = newLevelsJSON(s.Bias.Frames)
	case s.Dark != nil:
		j.Levels = newLevelsJSON(s.Dark.Frames)
	case s.Flat != nil:
		j.Levels, j.Transfer = newLevelsJSON(s.Flat.Frames), newTransferJSON(s.Flat.Points)
		for _, shadow := range s.Flat.Shadows {
			j.Shadows = append(j.Shadows, newShadowJSON(shadow))
		}
	case s.Summary != nil:
		j.Transfer = newTransferJSON(s.Summary.Transfer)
		for _, e := range s.Summary.Series {
			j.Series = append(j.Series, newDarkSeriesJSON(e))
		}
	}
	return j
}

func newLevelsJSON(frames []stack.FrameLevel) []levelJSON {
	list := []levelJSON{}
	for _, f := range frames {
		l := levelJSON{f.Name, nil, real(f.TempC), real(f.Level), f.Outlier}
		if !f.Start.IsZero() {
			start := f.Start.UTC().Format(time.RFC3339Nano)
			l.Start = &start
		}
		list = append(list, l)
	}
	return list
}

func newTransferJSON(points []sensor.TransferPoint) []transferJSON {
	list := []transferJSON{}
	for _, p := range points {
		list = append(list, transferJSON{p.Set, real(p.Exposure), real(p.Signal), real(p.Variance), real(p.Err), newFigure(p.Gain), p.Fitted})
	}
	return list
}

func newDarkSeriesJSON(e sensor.ExposureSeries) darkSeriesJSON {
	j := darkSeriesJSON{real(e.TempC), e.Bias, newFigure(e.Rate), newFigure(e.ByNoise), newFigure(e.Intercept), say.Fact(e.Method), newFactsJSON(e.Facts()), []darkPointJSON{}}
	for _, p := range e.Points {
		j.Points = append(j.Points, darkPointJSON{p.Set, real(p.Exposure), real(p.Level), real(p.Err)})
	}
	return j
}
