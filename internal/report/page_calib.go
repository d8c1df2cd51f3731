package report

import (
	"html/template"
	"image"
	"math"
	"strings"

	"fitsqa/internal/sensor"

	"fitsqa/internal/frames"
	"fitsqa/internal/say"
	"fitsqa/internal/stats"
)

// setView is a calibration set or the camera's summary on the page.
type setView struct {
	Label, Kind string
	Metrics     []metricRow
	Warnings    []string
	Figures     []figureView
	Master      *masterView // picture of the master frame
}

// masterView is the picture of a set's master.
type masterView struct {
	Source        template.HTMLAttr
	Width, Height int
}

type metricRow struct {
	Title, Name, Value, Unit, N, Note string
}

func newSetView(s *sensor.Set) setView {
	v := setView{Label: frames.Printable(s.Label), Kind: s.Kind, Warnings: printable(s.Warnings)}
	for _, m := range s.Metrics {
		row := metricRow{Title: metricTitle(m.Name), Name: m.Name, Value: measured(m.Value), Unit: m.Unit, Note: say.Typeset(frames.Printable(m.Note))}
		if m.Value.N > 0 {
			row.N = plain(float64(m.Value.N))
		}
		if !m.Value.OK() {
			row.Unit, row.Note = "", say.Typeset(frames.Printable(newFigure(m.Value).Reason))
		}
		v.Metrics = append(v.Metrics, row)
	}
	v.Figures = setFigures(s)
	v.Master = newMasterView(masterOf(s))
	return v
}

func masterOf(s *sensor.Set) *frames.Preview {
	switch {
	case s.Bias != nil:
		return s.Bias.Master
	case s.Dark != nil:
		return s.Dark.Master
	case s.Flat != nil:
		return s.Flat.Master
	}
	return nil
}

// newMasterView draws a master from its darkest to its brightest part, the
// outermost half percent on either side left to black and white: masters are
// nearly flat, and what matters is their pattern.
func newMasterView(p *frames.Preview) *masterView {
	if p == nil {
		return nil
	}
	var values []float64
	for _, x := range p.Pixels {
		if v := float64(x); !math.IsNaN(v) && !math.IsInf(v, 0) {
			values = append(values, v)
		}
	}
	if len(values) == 0 {
		return nil
	}
	low, high := stats.Quantile(values, 0.005), stats.Quantile(values, 0.995)
	im := image.NewGray(image.Rect(0, 0, p.Width, p.Height))
	for y := range p.Height {
		for x := range p.Width {
			share := (float64(p.Pixels[y*p.Width+x]) - low) / (high - low)
			if share > 0 { // also false for NaN
				im.Pix[(p.Height-1-y)*im.Stride+x] = uint8(255 * math.Min(1, share))
			}
		}
	}
	return &masterView{imageSource(dataURI(encodeJPEG(im, pictureQuality))), p.Width, p.Height}
}

// metricTitles are the figures of calibration.csv as people call them, where
// the name alone would not read well.
var metricTitles = map[string]string{
	"offset_adu": "Offset", "read_noise_adu": "Read noise", "read_noise_e": "Read noise",
	"pixel_noise_median_adu": "Noise of single pixels, median", "pixel_noise_rms_adu": "Noise of single pixels, rms",
	"pixel_noise_p99_adu": "Noise of single pixels, 99th percentile", "noisy_pixel_fraction": "Noisy (telegraph) pixels",
	"fixed_pattern_adu": "Fixed pattern", "clipped_fraction": "Pixels cut off at zero", "drift_adu_per_frame": "Drift per frame",
	"master_noise_adu": "Noise of the master", "sample_step_adu": "Step of the samples",
	"dark_current_by_noise_e_per_s": "Dark current by the noise", "dark_intercept_adu": "Level at zero exposure",
	"dark_current_e_per_s": "Dark current, median pixel", "dark_current_mean_e_per_s": "Dark current, mean",
	"dark_current_adu_per_s": "Dark current, median pixel", "hot_fraction": "Hot pixels, share", "hot_threshold_e_per_s": "Hot from",
	"warm_nonuniformity_e_per_s": "Spread of the pixels' dark current", "glow_e": "Glow, height", "glow_x": "Glow, x", "glow_y": "Glow, y",
	"light_leak_pct": "Light leak", "temperature_offset_c": "Sensor off its set temperature", "temperature_rms_c": "Temperature, rms",
	"level_fraction": "Level, share of saturation", "saturated_fraction": "Saturated pixels", "gain_e_per_adu": "Gain",
	"prnu_pct": "Pixel response spread", "corner_falloff_pct": "Falloff to the corners", "flicker_pct": "Flicker",
	"master_snr": "Signal to noise of the master", "full_well_e": "Full well", "saturation_adu": "Saturation",
	"dynamic_range_stops": "Dynamic range", "linearity_error_pct": "Linearity error", "dark_doubling_c": "Dark current doubles every",
	"dark_activation_ev": "Activation energy of dark current", "dark_current_0c_e_per_s": "Dark current at 0 °C", "dark_benefit_pct": "Gain by darks",
}

func metricTitle(name string) string {
	if title, ok := metricTitles[name]; ok {
		return title
	}
	title := strings.ReplaceAll(name, "_", " ")
	return strings.ToUpper(title[:1]) + title[1:]
}
