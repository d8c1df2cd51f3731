package main

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"fitsqa/internal/ledger"
)

// smallSeason is a ledger of two invented nights and a camera that got worse.
func smallSeason(t *testing.T) (path string) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "ledger.db")
	l, err := ledger.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	var r ledger.Record
	for night := range 2 {
		start := time.Date(2025, 2, 3+night, 20, 0, 0, 0, time.UTC)
		for i := range 12 {
			s := ledger.Sub{
				Camera: "C1", Start: start.Add(time.Duration(i) * 310 * time.Second), Night: start.Format(time.DateOnly),
				Target: "Heron \x1b[31mNebula", Filter: "Ha", Exposure: 300, Verdict: "keep", Weight: 0.5,
				FWHM: 3, Sky: 0.25 + float64(night), SkyMag: math.NaN(), Lat: 50, Lon: 10,
			}
			if i < 6 && night == 1 {
				s.Verdict, s.Cause = "cull", "cloud"
			}
			r.Subs = append(r.Subs, s)
		}
		r.Figures = append(r.Figures, ledger.Figure{Camera: "C1", Night: start.Format(time.DateOnly), Metric: "read_noise_e",
			Setting: "gain 100", Unit: "e-", Value: 1.5 + float64(night), Uncertainty: 0.01, Frames: 20})
		r.Figures = append(r.Figures, ledger.Figure{Camera: "C1", Night: start.Format(time.DateOnly), Metric: "read_noise_adu",
			Setting: "gain 100", Unit: "ADU", Value: 6, Uncertainty: 0.01, Frames: 20})
	}
	if err := l.Record(t.Context(), r); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestLedgerText(t *testing.T) {
	code, stdout, stderr := call(t, "ledger", "--ledger", smallSeason(t))
	if code != exitDone || stderr != "" {
		t.Fatalf("exit code %d, %q", code, stderr)
	}
	if strings.Contains(stdout, "read_noise_adu") {
		t.Error("the same figure is shown in two units")
	}
	if strings.Contains(stdout, "\x1b") {
		t.Error("a control character of a header reached the terminal")
	}
	for _, want := range []string{
		"2       2025-02-03  2025-02-04  24    2.00    1.50      0.75", // 24 × 300 s, 18 of them at half weight
		"2025-02-04",
		"1.500 ± 0.010  2.500 ± 0.010 e-",
		"Warning: C1: read noise (gain 100) went from 1.5 to 2.5 e- on 2025-02-04",
		"50.00, 10.00",
	} {
		if !strings.Contains(stdout, want) {
			t.Errorf("no %q in\n%s", want, stdout)
		}
	}
	_, one, _ := call(t, "ledger", "--ledger", smallSeason(t), "--nights", "1")
	latest := one[strings.Index(one, "Latest nights"):strings.Index(one, "Camera health")]
	if strings.Contains(latest, "2025-02-03") || !strings.Contains(latest, "2025-02-04") {
		t.Errorf("the latest night alone: %s", latest)
	}
}

func TestLedgerCSV(t *testing.T) {
	path := smallSeason(t)
	for _, c := range []struct {
		flag string
		rows int
		last []string
	}{
		{"--csv", 3, []string{`Heron \x1b[31mNebula`, "Ha", "2025-02-04", "C1", "12", "1.0000", "0.5000", "0.2500", "0.7500"}},
		{"--csv=health", 5, []string{"C1", "read_noise_e", "gain 100", "2025-02-04", "2.5", "e-", "0.01", "20",
			"C1: read noise (gain 100) went from 1.5 to 2.5 e- on 2025-02-04; beyond the 0.045 that noise and daily change explain"}},
		{"--csv=sites", 2, []string{"50", "10", "Ha", "2", "3", "2025-02-03", "0.25", "2025-02-03", "", "18", "3", "3", "0.25", "0.25", "", ""}},
	} {
		code, stdout, stderr := call(t, "ledger", "--ledger", path, c.flag)
		rows, err := csv.NewReader(strings.NewReader(stdout)).ReadAll()
		if code != exitDone || stderr != "" || err != nil || len(rows) != c.rows {
			t.Fatalf("%s: exit code %d, %q, %v, %d rows", c.flag, code, stderr, err, len(rows))
		}
		if got := strings.Join(rows[c.rows-1], "|"); got != strings.Join(c.last, "|") {
			t.Errorf("%s: %q, want %q", c.flag, got, c.last)
		}
	}
}

func TestLedgerForget(t *testing.T) {
	path := smallSeason(t)
	code, stdout, _ := call(t, "ledger", "--ledger", path, "--forget", "2025-02-03")
	if code != exitDone || !strings.HasPrefix(stdout, "14 rows") {
		t.Errorf("exit code %d, %q", code, stdout)
	}
	if _, stdout, _ = call(t, "ledger", "--ledger", path); strings.Contains(stdout, "2025-02-03") {
		t.Errorf("still there: %s", stdout)
	}
}

func TestLedgerTrouble(t *testing.T) {
	bad := filepath.Join(t.TempDir(), "bad.db")
	if err := os.WriteFile(bad, []byte(strings.Repeat("no database\n", 100)), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		args []string
		code int
		says string
	}{
		{[]string{"--ledger", bad}, exitOutput, "is damaged; move it aside"},
		{[]string{"--ledger", filepath.Join(t.TempDir(), "none.db")}, exitNothing, "there is no ledger at"},
		{nil, exitNothing, "there is no ledger at"},
		{[]string{"--csv=moon"}, exitUsage, `no table "moon"`},
		{[]string{"--nights", "-1"}, exitUsage, "negative"},
		{[]string{"what"}, exitUsage, `takes no "what"`},
	} {
		code, _, stderr := call(t, append([]string{"ledger"}, c.args...)...)
		if code != c.code || !strings.Contains(stderr, c.says) {
			t.Errorf("%q: exit code %d, %q; want %d and %q", c.args, code, stderr, c.code, c.says)
		}
	}
	if code, stdout, _ := call(t, "ledger", "--help"); code != exitDone || !strings.Contains(stdout, "--forget") {
		t.Errorf("help: %d", code)
	}
}

// Names that spreadsheets take for formulas come out of the ledger as text.
func TestLedgerCSVHoldsNoFormulas(t *testing.T) {
	path := filepath.Join(t.TempDir(), "ledger.db")
	l, err := ledger.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	const formula = "=cmd|' /C calc'!A0"
	start := time.Date(2025, 2, 3, 20, 0, 0, 0, time.UTC)
	r := ledger.Record{
		Subs: []ledger.Sub{{Camera: "@cam", Start: start, Night: "2025-02-03", Target: formula, Filter: "a;=1+1", Exposure: 300, Verdict: "keep",
			Weight: 1, FWHM: 3, Sky: 1, SkyMag: math.NaN(), Lat: 50, Lon: 10}},
		Figures: []ledger.Figure{{Camera: "＝cam", Night: "2025-02-03", Metric: "read_noise_e", Setting: "+gain", Unit: "e-", Value: 1, Uncertainty: 0.1, Frames: 5}},
	}
	if err := l.Record(t.Context(), r); err != nil {
		t.Fatal(err)
	}
	l.Close()
	for table, wants := range map[string][]string{"hours": {"'" + formula, "a;'=1+1", "'@cam"}, "health": {"'＝cam", "'+gain"}, "sites": {"a;'=1+1"}} {
		_, stdout, stderr := call(t, "ledger", "--ledger", path, "--csv="+table)
		rows, err := csv.NewReader(strings.NewReader(stdout)).ReadAll()
		if err != nil || len(rows) != 2 {
			t.Fatalf("%s: %v %q %q", table, err, stdout, stderr)
		}
		for _, want := range wants {
			if !slices.Contains(rows[1], want) {
				t.Errorf("%s: no cell %q in %q", table, want, rows[1])
			}
		}
	}
}

// A ledger that cannot be read is no ledger without nights: every report says
// so, and what rests on it is unknown.
func TestUnreadableLedgerIsTold(t *testing.T) {
	if testing.Short() {
		t.Skip("one run more; TestDamagedFiles of package ledger opens such files")
	}
	t.Parallel()
	dir := smallNight(t)
	place := t.TempDir()
	damaged := filepath.Join(place, "damaged.db")
	if err := os.WriteFile(damaged, []byte(strings.Repeat("no database\n", 100)), 0o600); err != nil {
		t.Fatal(err)
	}
	config := filepath.Join(place, "goals.toml")
	if err := os.WriteFile(config, []byte("[[plan.goals]]\ntarget = \"Heron Nebula\"\nfilter = \"L\"\nhours = 8\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(place, "out")
	code, stdout, stderr := finish(t, program(t, "check", "--no-cache", "--config", config, "--ledger", damaged, "-o", out, dir))
	if code != exitOutput { // the night could not be recorded either
		t.Errorf("exit %d\n%s", code, stderr)
	}
	for _, name := range []string{"report.txt", "night.json", "report.html"} {
		raw, err := os.ReadFile(filepath.Join(out, name))
		if err != nil {
			t.Fatal(err)
		}
		text := strings.Join(strings.Fields(string(raw)), " ")
		for _, want := range []string{"earlier nights are unknown", "hours of earlier nights unknown"} {
			if !strings.Contains(text, want) {
				t.Errorf("%s does not say %q", name, want)
			}
		}
	}
	if !strings.Contains(strings.Join(strings.Fields(stdout), " "), "earlier nights are unknown") {
		t.Errorf("the first screen does not tell:\n%s", stdout)
	}
	var night struct {
		Goals []struct {
			Earlier *float64 `json:"earlier_h"`
			Still   struct {
				Value *float64 `json:"value"`
			} `json:"still_needed_h"`
		} `json:"goals"`
	}
	raw, err := os.ReadFile(filepath.Join(out, "night.json"))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(raw, &night); err != nil {
		t.Fatal(err)
	}
	if len(night.Goals) != 1 || night.Goals[0].Earlier != nil || night.Goals[0].Still.Value != nil {
		t.Errorf("goals %+v", night.Goals)
	}
}

func TestLedgerPage(t *testing.T) {
	file := filepath.Join(t.TempDir(), "season.html")
	code, stdout, stderr := call(t, "ledger", "--ledger", smallSeason(t), "--html", file)
	page, err := os.ReadFile(file)
	if code != exitDone || stdout+stderr != "" || err != nil {
		t.Fatalf("exit code %d, %q, %v", code, stdout+stderr, err)
	}
	for _, want := range []string{"2 nights from 2025-02-03 to 2025-02-04", "read noise (gain 100) went from 1.5 to 2.5", "50.00°, 10.00°"} {
		if !strings.Contains(string(page), want) {
			t.Errorf("no %q", want)
		}
	}
	if strings.Contains(string(page), "\x1b") {
		t.Error("a control character of a header reached the page")
	}
	if code, _, _ := call(t, "ledger", "--ledger", smallSeason(t), "--html", filepath.Join(file, "none")); code != exitOutput {
		t.Errorf("exit code %d", code)
	}
}
