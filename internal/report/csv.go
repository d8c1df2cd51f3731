package report

import (
	"encoding/csv"
	"io"
	"strconv"
	"strings"
	"unicode/utf8"

	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/say"
)

// Columns of subs.csv, in the order of the output contract.
var subsColumns = []string{
	"file", "target", "filter", "start_utc", "exposure_s", "gain_setting", "sensor_temp_c",
	"sky_adu", "sky_e_per_s", "noise_adu", "stars", "saturated_stars",
	"fwhm_px", "fwhm_arcsec", "hfd_px", "ellipticity", "elongation_angle_deg", "coherence",
	"transparency", "gradient_pct", "shift_x_px", "shift_y_px", "rotation_deg", "streaks",
	"airmass", "sun_alt_deg", "moon_alt_deg", "moon_lit_pct", "weight", "verdict", "causes",
	"zero_point_mag", "zero_point_err_mag", "sky_mag_arcsec2", "limiting_mag",
	"ra_deg", "dec_deg", "position_angle_deg", "scale_arcsec_px", "season_transparency",
	"weight_detail",
}

// Columns of calibration.csv, in the order of the output contract.
var calibrationColumns = []string{
	"set", "kind", "camera", "filter", "set_temp_c", "exposure_s", "gain_setting",
	"offset_setting", "binning", "metric", "value", "unit", "uncertainty", "frames", "note",
}

// SubsCSV writes one row a sub, readable or not (RFC 4180). A number that
// could not be measured is an empty cell; its reason is in night.json.
func SubsCSV(w io.Writer, r *night.Result) error {
	out := csv.NewWriter(w)
	out.Write(subsColumns)
	for _, s := range r.Subs {
		out.Write(subRow(s))
	}
	out.Flush()
	return out.Error()
}

func subRow(s *night.Sub) []string {
	row := []string{
		cell(s.File), cell(s.Target), cell(s.Filter), stamp(s.Start),
		number(s.Exposure), number(s.GainSetting), number(s.SensorTemp),
	}
	for _, column := range subsColumns[len(row):] {
		switch column {
		case "verdict":
			row = append(row, string(s.Verdict))
		case "causes":
			row = append(row, causeList(s, ";"))
		default:
			row = append(row, number(figureOf(s, column).V))
		}
	}
	return row
}

// causeList joins the causes of a sub, the leading one first.
func causeList(s *night.Sub, sep string) string {
	names := make([]string, len(s.Causes))
	for i, c := range s.Causes {
		names[i] = string(c)
	}
	return strings.Join(names, sep)
}

// CalibrationCSV writes one row a measured figure of the calibration frames
// and the camera (RFC 4180). A figure that could not be measured has an empty
// value and its reason as the note.
func CalibrationCSV(w io.Writer, r *night.Result) error {
	out := csv.NewWriter(w)
	out.Write(calibrationColumns)
	if r.Calib != nil {
		for _, set := range r.Calib.Sets {
			filter, temp, exposure, gain, offset, binning := groupCells(set.Group)
			for _, m := range set.Metrics() {
				note := say.Note(m.Note)
				if !m.Value.OK() && m.Value.Why != "" {
					note = m.Value.Why
				}
				out.Write([]string{
					cell(set.Label), set.Kind, cell(set.Camera), filter, temp, exposure, gain, offset, binning,
					m.Name, number(m.Value.V), m.Unit, number(m.Value.Err), strconv.Itoa(m.Value.N), cell(note),
				})
			}
		}
	}
	out.Flush()
	return out.Error()
}

// groupCells are the cells of a calibration set that its group of frames
// tells; the camera summary has none.
func groupCells(g *frames.Group) (filter, temp, exposure, gain, offset, binning string) {
	if g == nil {
		return
	}
	return cell(g.Filter), number(g.SetTemp), number(g.Exposure), number(g.GainSetting),
		number(g.OffsetSetting), binningLabel(g.BinX, g.BinY)
}

func binningLabel(x, y int) string {
	return strconv.Itoa(x) + "x" + strconv.Itoa(y)
}

// cell makes text from a file name or header safe for a spreadsheet, see Cell.
func cell[S ~string](s S) string { return Cell(string(s)) }

// Cell makes text that others wrote safe for a spreadsheet: control characters
// are made visible, and what a spreadsheet would take for a formula gets an
// apostrophe in front. That is a text that begins, behind blanks perhaps, with
// = + - @ (the list of the OWASP advice on CSV injection), in full width too, as
// some spreadsheets read them, or with a tab or carriage return; and every part
// behind a semicolon, which divides cells where commas are decimal.
func Cell(s string) string {
	parts := strings.Split(s, ";")
	for i, p := range parts {
		safe := frames.Printable(p)
		if begins := strings.TrimLeft(p, " \u00a0\u3000"); begins != "" && strings.ContainsAny(firstRune(begins), "=+-@\t\r\n＝＋－＠") {
			safe = "'" + safe
		}
		parts[i] = safe
	}
	return strings.Join(parts, ";")
}

func firstRune(s string) string {
	_, n := utf8.DecodeRuneInString(s)
	return s[:n]
}
