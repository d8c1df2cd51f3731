package report

import (
	"encoding/csv"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/say"
)

// headerColumns are those of subs.csv from a sub's header.
var headerColumns = []string{"file", "target", "filter", "start_utc", "exposure_s", "gain_setting", "sensor_temp_c"}

// subsColumns are the columns of subs.csv, in the order of the output contract.
func subsColumns() []string {
	return slices.Concat(headerColumns, namesOf(judgedBy), []string{"verdict", "causes"}, namesOf(placedBy))
}

func namesOf(measures []measure) []string {
	var names []string
	for _, m := range measures {
		names = append(names, m.name)
	}
	return names
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
	out.Write(subsColumns())
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
	row = append(row, numbers(s, judgedBy)...)
	row = append(row, string(s.Verdict), causeList(s, ";"))
	return append(row, numbers(s, placedBy)...)
}

// numbers are the cells of figures.
func numbers(s *night.Sub, measures []measure) []string {
	var cells []string
	for _, m := range measures {
		cells = append(cells, number(m.of(s).V))
	}
	return cells
}

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
				if !m.Value.OK() && m.Value.Why.Code != "" {
					note = say.Fact(m.Value.Why)
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
