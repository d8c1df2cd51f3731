package report

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/json"
	"errors"
	"flag"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode"

	"github.com/google/go-cmp/cmp"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"fitsqa/internal/fact"
	"fitsqa/internal/night"
	"fitsqa/internal/outdir"
	"fitsqa/internal/sensor"
)

var update = flag.Bool("update", false, "write the golden files anew")

// render is what write makes of r.
func render(t *testing.T, write func(io.Writer, *night.Result) error, r *night.Result) string {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b, r); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestGolden(t *testing.T) {
	for _, o := range (&writer{}).reports() {
		if o.name == "report.html" {
			continue // its parts are tested one by one, and in a browser
		}
		t.Run(o.name, func(t *testing.T) {
			r := relativePaths(fakeNight(8))
			r.Settings = night.Settings{} // the defaults of other packages are theirs to change
			got := render(t, o.write, r)
			got, _, _ = strings.Cut(got, "\nSettings\n")
			got = settingsBlocks.ReplaceAllString(got, "")
			if o.name == "night.json" {
				dir, err := os.Getwd()
				if err != nil {
					t.Fatal(err)
				}
				got = strings.ReplaceAll(got, filepath.ToSlash(dir), "/folder")
			}
			golden := filepath.Join("testdata", o.name+".golden")
			if *update {
				if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(golden)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(string(want), got); diff != "" {
				t.Errorf("differs from %s (-want +got):\n%s", golden, diff)
			}
		})
	}
}

var settingsBlocks = regexp.MustCompile(`(?s) "(settings|limits)": \{.*?\n \},\n`)

// relativePaths takes the bytes that are no UTF-8 out of paths, whose base64
// form would hold this machine's folder.
func relativePaths(r *night.Result) *night.Result {
	for _, f := range r.Frames {
		f.Path = strings.ToValidUTF8(f.Path, "_")
	}
	return r
}

// The first screen is the answer: at most 40 lines of 100 columns, and nothing
// in the whole file steers a terminal.
func TestTextFitsTheScreen(t *testing.T) {
	many := fakeNight(8)
	for range 60 {
		many.Warnings = append(many.Warnings, fact.Of(night.CulledBefore, fact.Text("folder", strings.Repeat("a warning that goes on and on ", 20))))
		many.Verdicts.Groups = append(many.Verdicts.Groups, many.Verdicts.Groups[0])
		many.Worth = append(many.Worth, many.Worth[0])
		many.Calib.Sets = append(many.Calib.Sets, many.Calib.Sets[1])
	}
	for name, r := range map[string]*night.Result{"usual": fakeNight(8), "crowded": many, "empty": {}} {
		t.Run(name, func(t *testing.T) {
			screen := answer(fullPaper, r, summarize(r), screenLines)
			if len(screen) > screenLines-1 {
				t.Errorf("first screen has %d lines", len(screen))
			}
			for _, line := range answer(narrowest, r, summarize(r), screenLines) {
				if width(line) > int(narrowest) && !strings.HasPrefix(line, "  ") { // tables keep their columns
					t.Errorf("%d columns on a narrow terminal: %s", width(line), line)
				}
			}
			text := render(t, Text, r)
			for i, line := range strings.Split(text, "\n") {
				if width(line) > int(fullPaper) {
					t.Errorf("line %d has %d columns: %s", i+1, width(line), line)
				}
				if strings.IndexFunc(line, func(c rune) bool { return !unicode.IsPrint(c) && c != '\u00a0' }) >= 0 {
					t.Errorf("line %d holds what a terminal would obey: %q", i+1, line)
				}
			}
		})
	}
}

func TestSubsCSV(t *testing.T) {
	r := fakeNight(4)
	rows, err := csv.NewReader(strings.NewReader(render(t, SubsCSV, r))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	const contract = "file, target, filter, start_utc, exposure_s, gain_setting, sensor_temp_c, sky_adu, sky_e_per_s, noise_adu, " +
		"stars, saturated_stars, fwhm_px, fwhm_arcsec, hfd_px, ellipticity, elongation_angle_deg, coherence, transparency, " +
		"gradient_pct, shift_x_px, shift_y_px, rotation_deg, streaks, airmass, sun_alt_deg, moon_alt_deg, moon_lit_pct, weight, " +
		"verdict, causes, zero_point_mag, zero_point_err_mag, sky_mag_arcsec2, limiting_mag, ra_deg, dec_deg, position_angle_deg, " +
		"scale_arcsec_px, season_transparency, weight_detail"
	if got := strings.Join(rows[0], ", "); got != contract {
		t.Errorf("columns:\n%s\nwant\n%s", got, contract)
	}
	if len(rows) != len(r.Subs)+1 {
		t.Fatalf("%d rows for %d subs", len(rows)-1, len(r.Subs))
	}
	cellOf := func(file, column string) string {
		for _, row := range rows[1:] {
			if row[0] == file {
				for i, name := range rows[0] {
					if name == column {
						return row[i]
					}
				}
			}
		}
		t.Fatalf("no cell %s of %s", column, file)
		return ""
	}
	for _, c := range []struct{ file, column, want string }{
		{"lights/garbage.fits", "fwhm_px", ""},
		{"lights/garbage.fits", "stars", ""},
		{"lights/garbage.fits", "sky_adu", ""},
		{"lights/garbage.fits", "verdict", "cull"},
		{"lights/garbage.fits", "causes", "unreadable"},
		{"lights/no_stars.fits", "stars", "0"},
		{"lights/no_stars.fits", "fwhm_px", ""},
		{"lights/silent_header.fits", "start_utc", ""},
		{"lights/silent_header.fits", "fwhm_arcsec", ""},
		{"lights/silent_header.fits", "exposure_s", ""},
		{`'=HYPERLINK("x").fits`, "verdict", "keep"},
		{`\x1b[31mred\a\n.fits`, "target", `<b>M 31</b>\x1b[2J`},
		{"lights/M_33_Ha_0001.fits", "start_utc", "2026-03-14T20:30:00Z"},
	} {
		if got := cellOf(c.file, c.column); got != c.want {
			t.Errorf("%s of %s is %q, want %q", c.column, c.file, got, c.want)
		}
	}
}

// Every setting of every package shows, under its name in the settings file.
func TestSettings(t *testing.T) {
	type limits struct {
		FWHMMaxPx float64
		Names     []string
		Progress  func()
		Found     float64 `toml:"-"`
	}
	var none *limits
	got := settingsOf(struct {
		Workers int
		Limits  limits
		Site    *limits
		Earlier []limits `toml:"-"`
		Worked  limits   `toml:"-"`
	}{2, limits{FWHMMaxPx: 5, Names: []string{"a", "b"}}, none, nil, limits{}})
	want := []setting{{"general", "workers", int64(2)}, {"limits", "fwhm_max_px", 5.0}, {"limits", "names", []string{"a", "b"}}, {"site", "from", "headers"}}
	if got[0].key() != "workers" || got[1].key() != "limits.fwhm_max_px" {
		t.Errorf("the keys are %s and %s", got[0].key(), got[1].key())
	}
	if diff := cmp.Diff(want, got, cmp.AllowUnexported(setting{})); diff != "" {
		t.Error(diff)
	}
}

// What a run was given of other nights is no setting: the stars of a season's references
// filled pages.
func TestSeasonIsNoSetting(t *testing.T) {
	known := night.DefaultSettings()
	known.Season = night.Season{References: []night.Reference{{Night: "2025-08-20", Stars: make([]night.ReferenceStar, 500)}}, Setups: make([]night.Setup, 3)}
	if got, want := len(settingsOf(known)), len(settingsOf(night.DefaultSettings())); got != want {
		t.Errorf("%d settings with a season, %d without", got, want)
	}
	for _, s := range settingsOf(known) {
		if s.section == "season" {
			t.Errorf("a setting %s.%s", s.section, s.name)
		}
	}
}

// A cell that a spreadsheet would run is quoted; a number never is.
func TestCellsAreNoFormulas(t *testing.T) {
	for in, want := range map[string]string{
		"=1+1": "'=1+1", "+x": "'+x", "-x": "'-x", "@x": "'@x", "\tx": `'\tx`, "\rx": `'\rx`, "M 33": "M 33", "": "", "Hα": "Hα",
		"＝1+1": "'＝1+1", "＋x": "'＋x", "－x": "'－x", "＠x": "'＠x", "  =1+1": "'  =1+1", "\u3000=x": `'\u3000=x`,
		"a;=1+1": "a;'=1+1", "a; @x;b": "a;' @x;b", "a;b": "a;b", "\n=x": `'\n=x`, "a=b": "a=b", "2025-02-03": "2025-02-03",
	} {
		if got := cell(in); got != want {
			t.Errorf("cell(%q) = %q, want %q", in, got, want)
		}
	}
	if got := number(-12.5); got != "-12.5" {
		t.Errorf("number is %q", got)
	}
}

func TestNumber(t *testing.T) {
	for _, c := range []struct {
		in   float64
		want string
	}{
		{0, "0"}, {1, "1"}, {-0.00213, "-0.00213"}, {123456.789, "123457"}, {3.14159265, "3.14159"}, {1e-7, "0.0000001"},
		{65535, "65535"}, {1234567890, "1234567890"}, {nan, ""}, {math.Inf(1), ""}, {100, "100"}, {1e-20, "1e-20"},
	} {
		if got := number(c.in); got != c.want {
			t.Errorf("number(%v) = %q, want %q", c.in, got, c.want)
		}
	}
}

// Names give way only as far as they stay apart.
func TestShortenedNamesStayDistinct(t *testing.T) {
	for _, c := range []struct {
		n           int
		paths, want []string
	}{
		{9, []string{"a/1.fits", "b/2.fits"}, []string{"a/1.fits", "b/2.fits"}},
		{6, []string{"a/1.fits", "b/2.fits"}, []string{"1.fits", "2.fits"}},
		{16, []string{"Ha/Heron_Nebula_Ha_1.fits", "L/Heron_Nebula_L_1.fits"}, []string{"…Ha_1.fits", "…L_1.fits"}},
		{9, []string{"Heron_Nebula_1_a_long_name.fits", "Heron_Nebula_2_a_long_name.fits"}, []string{"…1_a…fits", "…2_a…fits"}},
		{6, []string{"Ha/clouds11and.fits", "Ha/clouds12and.fits"}, []string{"clouds11and.fits", "clouds12and.fits"}},
		{4, []string{"a/night1.fits", "b/night1.fits"}, []string{"a/night1.fits", "b/night1.fits"}},
	} {
		got := shorten(c.paths, c.n)
		if len(got) != len(c.want) || got[0] != c.want[0] || got[1] != c.want[1] {
			t.Errorf("%q in %d: %q, want %q", c.paths, c.n, got, c.want)
		}
	}
}

func TestClipKeepsBothEnds(t *testing.T) {
	for _, s := range []string{hostileLong, "日本語の天体写真の長い名前.fits", "e\u0301e\u0301e\u0301e\u0301e\u0301e\u0301e\u0301e\u0301e\u0301e\u0301e\u0301e\u0301"} {
		got := clip(s, 11)
		if width(got) > 11 || !strings.Contains(got, "…") || !strings.HasSuffix(s, split(got)[len(split(got))-1]) {
			t.Errorf("clip gives %q (%d columns)", got, width(got))
		}
	}
}

// night.json is what its schema (JSON Schema draft 2020-12) says.
func TestJSONMatchesSchema(t *testing.T) {
	schema := compileSchema(t)
	for name, r := range map[string]*night.Result{"usual": fakeNight(8), "empty": {}} {
		doc, err := jsonschema.UnmarshalJSON(strings.NewReader(render(t, JSON, r)))
		if err != nil {
			t.Fatal(err)
		}
		if err := schema.Validate(doc); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	// The schema can tell: a missing value without its reason is refused.
	var doc map[string]any
	if err := json.Unmarshal([]byte(render(t, JSON, fakeNight(2))), &doc); err != nil {
		t.Fatal(err)
	}
	figure := doc["subs"].([]any)[0].(map[string]any)["measures"].(map[string]any)["fwhm_px"].(map[string]any)
	figure["value"] = nil
	if schema.Validate(doc) == nil {
		t.Error("a null value without a reason was accepted")
	}
}

// The schema names the figures of calibration frames as their table does.
func TestSchemaNamesFigures(t *testing.T) {
	var schema struct {
		Defs struct {
			Metric struct {
				Properties struct {
					Metric struct{ Enum []string } `json:"metric"`
				} `json:"properties"`
			} `json:"metric"`
		} `json:"$defs"`
	}
	if err := json.Unmarshal(schemaText, &schema); err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, kind := range []string{sensor.KindBias, sensor.KindDark, sensor.KindFlat, sensor.KindCamera} {
		for _, d := range sensor.Definitions(kind) {
			if !slices.Contains(names, d.Name) {
				names = append(names, d.Name)
			}
		}
	}
	if got := schema.Defs.Metric.Properties.Metric.Enum; !slices.Equal(got, names) {
		t.Errorf("the schema has\n%q, the table\n%q", got, names)
	}
}

func compileSchema(t *testing.T) *jsonschema.Schema {
	t.Helper()
	parsed, err := jsonschema.UnmarshalJSON(bytes.NewReader(schemaText))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	if err := c.AddResource("night.schema.json", parsed); err != nil {
		t.Fatal(err)
	}
	schema, err := c.Compile("night.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	return schema
}

func TestWriteAll(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "out", "here")
	for range 2 { // the second run replaces what the first wrote
		if err := WriteAll(context.Background(), dir, fakeNight(3)); err != nil {
			t.Fatal(err)
		}
	}
	if got := filesIn(t, dir); len(got) != len((&writer{}).reports())+1 { // and the checksums
		t.Errorf("the folder holds %q", got)
	}
}

// A run that is cancelled or fails leaves the earlier report whole, and no
// file of its own.
func TestWriteAllLeavesNothingHalfDone(t *testing.T) {
	dir := t.TempDir()
	old := []byte("report of last night")
	if err := os.WriteFile(filepath.Join(dir, "report.txt"), old, 0o644); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if err := WriteAll(ctx, dir, fakeNight(3)); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled run says %v", err)
	}
	if got := filesIn(t, dir); len(got) != 1 {
		t.Errorf("the folder holds %q", got)
	}
	if got, err := os.ReadFile(filepath.Join(dir, "report.txt")); err != nil || !bytes.Equal(got, old) {
		t.Errorf("the earlier report is %q, %v", got, err)
	}
	if err := WriteAll(context.Background(), filepath.Join(dir, "report.txt"), fakeNight(1)); err == nil {
		t.Error("a folder that is a file was accepted")
	}
}

// What a killed run left goes with the next run; whatever is not ours stays.
func TestWriteAllSweepsLeavings(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{".report.txt.1" + outdir.TemporarySuffix, ".mine.tmp", "notes" + outdir.TemporarySuffix} {
		if err := os.WriteFile(filepath.Join(dir, name), nil, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := WriteAll(context.Background(), dir, fakeNight(1)); err != nil {
		t.Fatal(err)
	}
	want := []string{".mine.tmp", "calibration.csv", "checksums.txt", "night.json", "notes" + outdir.TemporarySuffix, "report.html", "report.txt", "subs.csv"}
	if diff := cmp.Diff(want, filesIn(t, dir)); diff != "" {
		t.Error(diff)
	}
}

// A run that was killed after any of its renames leaves a set that is noticed.
func TestMixedReportsAreNoticed(t *testing.T) {
	first, second := t.TempDir(), t.TempDir()
	for dir, n := range map[string]int{first: 3, second: 4} {
		if err := WriteAll(context.Background(), dir, fakeNight(n)); err != nil {
			t.Fatal(err)
		}
		if err := outdir.CheckOneRun(dir); err != nil {
			t.Errorf("a whole run: %v", err)
		}
	}
	all := append([]string{"report.txt", "subs.csv", "calibration.csv", "night.json", "report.html"}, outdir.SumsName)
	for i, name := range all {
		raw, err := os.ReadFile(filepath.Join(second, name))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(first, name), raw, 0o644); err != nil {
			t.Fatal(err)
		}
		var mixed *outdir.MixedError
		if err := outdir.CheckOneRun(first); errors.As(err, &mixed) == (i == len(all)-1) {
			t.Errorf("killed after renaming %s: %v", name, err)
		}
	}
}

// Maps of an earlier night do not stay beside the reports of this one, unless
// they are not what was written.
func TestMapsOfAnEarlierNightGo(t *testing.T) {
	dir := t.TempDir()
	var earlier outdir.Sums
	for name, kept := range map[string]string{"hot_old.csv": "as written", "hot_worked_on.csv": "as written"} {
		earlier.Add(name, sha256.Sum256([]byte(kept)))
	}
	var list bytes.Buffer
	if err := earlier.Write(&list); err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{"hot_old.csv": "as written", "hot_worked_on.csv": "changed since", "hot_mine.csv": "x", outdir.SumsName: list.String()} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := WriteAll(context.Background(), dir, fakeNight(1)); err != nil {
		t.Fatal(err)
	}
	want := []string{"calibration.csv", "checksums.txt", "hot_mine.csv", "hot_worked_on.csv", "night.json", "report.html", "report.txt", "subs.csv"}
	if diff := cmp.Diff(want, filesIn(t, dir)); diff != "" {
		t.Error(diff)
	}
}

func filesIn(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var list []string
	for _, e := range entries {
		list = append(list, e.Name())
	}
	return list
}
