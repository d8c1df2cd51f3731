package frames

import (
	"fmt"
	"math"
	"slices"
	"testing"
)

// Names as capture programs write them, and names that only look like them. Common
// practice, no source.
func TestSettingsInFileNames(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		name                        string
		exposure, temperature, gain float64
	}{
		{"Dark_300s_-10C_0001.fits", 300, -10, nan},
		{"Dark_120.0s_Bin1_gain100_-10.0C_0007.fits.fz", 120, -10, 100},
		{"Bias_1.0ms_Bin1_0001.fit", 1e-3, nan, nan},
		{"flat L 0,5sec 5°C.fts", 0.5, 5, nan},
		{"Dark300s.fits.gz", 300, nan, nan},
		{"dark_exp60s_GAIN_56.fits", 60, nan, 56},
		{"dark-5min-001.fits", 300, nan, nan},
		{"Dark_300s_+5C.fits", 300, 5, nan},
		{"Dark_300s-10C.fits", 300, nan, nan},        // a sign or a dash
		{"M31s_0001.fits", nan, nan, nan},            // a catalogue's number
		{"light_60s_of_300s.fits", nan, nan, nan},    // which?
		{"Light_60s_60s.fits", 60, nan, nan},         // the same twice
		{"C_2023_10C2_30.fits", nan, nan, nan},       // a comet
		{"img_0300.fits", nan, nan, nan},             // no unit
		{"again100_s.fits", nan, nan, nan},           // words of their own
		{"Dark_300s_-273C_gain.fits", 300, nan, nan}, // no sensor
		{"2026-03-14_2000s.fits", 2000, nan, nan},    // a time of day has no unit behind it
		{"Flat_Ha_1.5s_-10C_gain200.fits", 1.5, -10, 200},
	} {
		f := &Frame{Name: "night/" + c.name, Meta: NoMeta()}
		f.settingsFromName()
		got := fmt.Sprint(f.Meta.Exposure, f.Meta.SetTemp, f.Meta.GainSetting)
		if want := fmt.Sprint(c.exposure, c.temperature, c.gain); got != want {
			t.Errorf("%s: exposure, temperature, gain %s, want %s", c.name, got, want)
		}
		if f.Meta.SensorTemp == f.Meta.SensorTemp {
			t.Errorf("%s: a name tells what was set, not what the sensor had", c.name)
		}
	}
}

// What the header has is not overruled.
func TestHeaderGoesBeforeFileName(t *testing.T) {
	dir := t.TempDir()
	writeIn(t, dir, "Dark_300s_-10C_gain100.fits", darkScene.file(keyed("IMAGETYP", "'Dark'"), keyed("EXPTIME", 60), keyed("CCD-TEMP", 3), keyed("GAIN", 5)))
	m := scanDir(t, dir)[0].Meta
	if m.Exposure != 60 || m.SensorTemp != 3 || !math.IsNaN(m.SetTemp) || m.GainSetting != 5 {
		t.Errorf("%g s, %g and %g °C, gain %g: the header has 60 s, 3 °C, gain 5", m.Exposure, m.SensorTemp, m.SetTemp, m.GainSetting)
	}
}

// Darks of two exposures whose headers are empty are two sets, and so are flats and
// subs of two filters.
func TestNightOfNamesAlone(t *testing.T) {
	dir := t.TempDir()
	for i := range 2 {
		for _, e := range []string{"60s", "300s"} {
			writeIn(t, dir, fmt.Sprintf("Dark_%s_-10C_%04d.fits", e, i), darkScene.file())
		}
		for _, filter := range []string{"L", "Ha"} {
			writeIn(t, dir, fmt.Sprintf("Flat_%s_2s_%04d.fits", filter, i), flatScene.file())
			writeIn(t, dir, fmt.Sprintf("lights/%s/Light_300s_%04d.fits", filter, i), lightScene.file())
		}
	}
	var labels []string
	for _, g := range Sort(scanDir(t, dir)).Groups {
		labels = append(labels, g.Label())
	}
	want := []string{"dark 60 s -10 °C", "dark 300 s -10 °C", "flat Ha", "flat L", "light unknown target Ha 300 s", "light unknown target L 300 s"}
	if !slices.Equal(labels, want) {
		t.Errorf("groups %q, want %q", labels, want)
	}
}

// A letter in a name is a filter only where all flats and subs without one in their
// headers have one, and more than that letter bears it out.
func TestLettersThatAreNoFilters(t *testing.T) {
	for _, c := range []struct {
		why   string
		files map[string]string // name to filter in the header
		want  []string
	}{
		{"L for light, F for flat", map[string]string{"L_0001.fits": "", "F_0001.fits": ""}, []string{"", ""}},
		{"one letter and nothing beside it", map[string]string{"img_L_1.fits": "", "img_L_2.fits": ""}, []string{"", ""}},
		{"a master flat of the subs' filter", map[string]string{"MasterFlat_L.fits": "", "light/a.fits": "L"}, []string{"L", "L"}},
		{"two filters", map[string]string{"a_L.fits": "", "a_R.fits": ""}, []string{"L", "R"}},
		{"two in one name", map[string]string{"a_R_G.fits": "", "b_Ha.fits": ""}, []string{"", ""}},
		{"words that are spelt as one wants", map[string]string{"x_Lum_1.fits": "", "y_l_2.fits": "", "z_HALPHA_2.fits": ""}, []string{"L", "L", "Ha"}},
	} {
		dir := t.TempDir()
		for name, filter := range c.files {
			var header []string
			if filter != "" {
				header = append(header, keyed("FILTER", "'"+filter+"'"))
			}
			kind := "'Light'"
			if name[0] == 'F' || name[0] == 'M' {
				kind = "'Flat'"
			}
			writeIn(t, dir, name, lightScene.file(append(header, keyed("IMAGETYP", kind))...))
		}
		var got []string
		for _, f := range scanDir(t, dir) {
			got = append(got, string(f.Meta.Filter))
		}
		slices.Sort(got)
		slices.Sort(c.want)
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: filters %q, want %q", c.why, got, c.want)
		}
	}
}

// Masters of programs that drop camera and binning belong to the one camera whose
// frames have their size, and to none where two have.
func TestCameraOfSilentHeaders(t *testing.T) {
	for _, c := range []struct {
		cameras []string
		binning int
		want    string
		bin     int
	}{{[]string{"Cam A"}, 1, "Cam A", 1}, {[]string{"Cam A"}, 2, "Cam A", 2}, {[]string{"Cam A", "cam_a"}, 1, "Cam A", 1}, {[]string{"Cam A", "Cam B"}, 1, "", 1}, {nil, 1, "", 1}} {
		dir := t.TempDir()
		writeIn(t, dir, "master/MasterDark.fits", darkScene.file())
		for i, camera := range c.cameras {
			writeIn(t, dir, fmt.Sprintf("light/%d.fits", i), lightScene.file(keyed("INSTRUME", "'"+camera+"'"), keyed("XBINNING", c.binning)))
		}
		for _, f := range scanDir(t, dir) {
			if f.Master && (string(f.Meta.Camera) != c.want || f.Meta.BinX != c.bin || f.Meta.BinY != c.bin) {
				t.Errorf("cameras %q of binning %d: master of camera %q, binning %d, want %q, %d", c.cameras, c.binning, f.Meta.Camera, f.Meta.BinX, c.want, c.bin)
			}
		}
	}
}

// Frames of two read-out modes share no set; where a camera tells of one mode only, or
// a frame of none, nothing hangs on it.
func TestReadoutModes(t *testing.T) {
	for _, c := range []struct {
		modes []string
		want  []string
	}{
		{[]string{"Fast", "Low Noise"}, []string{"bias read out Fast", "bias read out Low Noise"}},
		{[]string{"Fast", "fast"}, []string{"bias"}},
		{[]string{"Fast", ""}, []string{"bias"}},
		{[]string{"Fast", "Low Noise", ""}, []string{"bias", "bias read out Fast", "bias read out Low Noise"}},
	} {
		dir := t.TempDir()
		for i, mode := range c.modes {
			header := []string{keyed("INSTRUME", "'Cam A'"), keyed("IMAGETYP", "'Bias'")}
			if mode != "" {
				header = append(header, keyed("READOUTM", "'"+mode+"'"))
			}
			writeIn(t, dir, fmt.Sprintf("%d.fits", i), biasScene.file(header...))
		}
		var labels []string
		for _, g := range Sort(scanDir(t, dir)).Groups {
			labels = append(labels, g.Label())
		}
		if !slices.Equal(labels, c.want) {
			t.Errorf("modes %q: groups %q, want %q", c.modes, labels, c.want)
		}
	}
}
