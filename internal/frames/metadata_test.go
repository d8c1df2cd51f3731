package frames

import (
	"fmt"
	"math"
	"testing"
	"time"
)

// What keywords mean is common practice, no source, unless a test names one.

func TestParseNumber(t *testing.T) {
	for _, tc := range []struct {
		text string
		want float64
		unit string
		ok   bool
	}{
		{"120", 120, "", true},
		{"+1.890187278651E-001", 0.1890187278651, "", true},
		{"1.5D3", 1500, "", true},
		{"1.5d-3", 0.0015, "", true},
		{".5", 0.5, "", true},
		{"5.", 5, "", true},
		{"2,00000", 2, "", true},
		{"-72,1", -72.1, "", true},
		{"11 C", 11, "C", true},
		{"0.019 mm", 0.019, "mm", true},
		{"2.5x", 2.5, "x", true},
		{"-10.0 degC", -10, "degC", true},
		{"12°", 12, "°", true},
		{"3E", 3, "E", true},
		{"  7  ", 7, "", true},
		{"18:15:29", 0, "", false},
		{"09 02 22", 0, "", false},
		{"1, 1024,1024, 1", 0, "", false},
		{"1,234.5", 0, "", false},
		{"2024-01-01", 0, "", false},
		{"", 0, "", false},
		{"-", 0, "", false},
		{"NaN", 0, "", false},
		{"Inf", 0, "", false},
		{"0x10", 0, "", false},
		{"1_000", 0, "", false},
		{"1E999", 0, "", false},
		{"Red", 0, "", false},
	} {
		v, unit, ok := parseNumber(tc.text)
		if v != tc.want || unit != tc.unit && ok || ok != tc.ok {
			t.Errorf("parseNumber(%q) = %v %q %v, want %v %q %v", tc.text, v, unit, ok, tc.want, tc.unit, tc.ok)
		}
	}
}

// Examples of FITS Standard 4.0 section 4.2.1 and of the conventions for long
// strings and HIERARCH, as astropy 5.2.1 writes them.
func TestCards(t *testing.T) {
	a, b := "", ""
	for range 60 {
		a += "A"
		b += "B"
	}
	h := &header{first: map[string]int{}}
	h.addBlock(cards(
		"LONGKEY = '"+a+"BBBBBBB&'",
		"CONTINUE  '"+b[:53]+"it''s&'",
		"CONTINUE  '' / a comment",
		"HIERARCH ESO DET CHIP1 GAIN = 1.25 / e-/ADU",
		"SHORTSTR= 'O''Neil '",
		"STORY   = 'This is a long string value &'",
		"CONTINUE  'extending&  '",
		"CONTINUE  ' over 3 lines.'",
		"lower   = 5",
		"QUOTES  = \"double\" / comment",
		"DATE    = 31/08/93 / legacy, not quoted",
		"EMPTY   = ''",
	))
	for key, want := range map[string]string{
		"LONGKEY":            a + b + "it's",
		"ESO DET CHIP1 GAIN": "1.25",
		"SHORTSTR":           "O'Neil",
		"STORY":              "This is a long string value extending over 3 lines.",
		"LOWER":              "5",
		"QUOTES":             "double",
		"DATE":               "31/08/93",
		"EMPTY":              "",
	} {
		if c, ok := h.get(key); !ok || c.value != want {
			t.Errorf("%s is %q, want %q", key, c.value, want)
		}
	}
	if c, _ := h.get("ESO DET CHIP1 GAIN"); c.comment != "e-/ADU" {
		t.Errorf("comment %q", c.comment)
	}
}

func TestMoments(t *testing.T) {
	for _, tc := range []struct {
		cards []string
		want  string // "" is unknown
	}{
		// FITS 4.0 section 9.1.1 for the forms with and without time.
		{[]string{"DATE-OBS= '2019-09-06T19:39:32.937'"}, "2019-09-06T19:39:32.937"},
		{[]string{"DATE-OBS= '2017-06-11T04:09:03.311554'"}, "2017-06-11T04:09:03.311554"},
		{[]string{"DATE-OBS= '2001-01-20T5:33:58'"}, "2001-01-20T05:33:58"},
		{[]string{"DATE-OBS= '2019-09-06 19:39:32'"}, "2019-09-06T19:39:32"},
		{[]string{"DATE-OBS= '2019-09-06T19:39:32Z'"}, "2019-09-06T19:39:32"},
		{[]string{"DATE-OBS= '2019-09-06T21:39:32+02:00'"}, "2019-09-06T19:39:32"},
		{[]string{"DATE-OBS= '2013-06-27'", "UT      = '23:13:12'"}, "2013-06-27T23:13:12"},
		{[]string{"DATE-OBS= '2013/06/27'", "TIME-OBS= '23:13:12.5'"}, "2013-06-27T23:13:12.5"},
		// FITS 4.0 section 4.4.2.1: DD/MM/YY is of 19YY.
		{[]string{"DATE-OBS= '26/10/92'", "TM-START= 1.1048E+04"}, "1992-10-26T03:04:08"},
		{[]string{"DATE-OBS= '26/10/1992'", "TIME-OBS= '03:04'"}, "1992-10-26T03:04:00"},
		{[]string{"DATE-OBS= '2013-06-27'"}, ""},
		{[]string{"DATE-OBS= '2013-06-31T00:00:00'"}, ""},
		{[]string{"DATE-OBS= 'yesterday'", "JD      = 2456362.6495370371"}, "2013-03-11T03:35:20"},
		{[]string{"MJD-OBS = 56470.96750"}, "2013-06-27T23:13:12"},
		{[]string{"MJD-OBS = 56486.0"}, ""}, // a date in disguise
		{[]string{"DATE-AVG= '2020-01-01T00:01:00'", "EXPTIME = 60"}, "2020-01-01T00:00:30"},
		{[]string{"DATE-END= '2020-01-01T00:01:00'", "EXPTIME = 60"}, "2020-01-01T00:00:00"},
		{[]string{"DATE-END= '2020-01-01T00:01:00'"}, ""},
		{[]string{"FRAME   = '2021-11-25T06:20:07.053'"}, "2021-11-25T06:20:07.053"},
	} {
		f := scanBytes(t, "x.fits", twoByTwo(tc.cards...))
		got := ""
		if !f.Meta.Start.IsZero() {
			got = f.Meta.Start.Format("2006-01-02T15:04:05.999999")
		}
		// A Julian date of 10 decimals is good to 10 microseconds.
		w, _ := time.Parse("2006-01-02T15:04:05.999999", tc.want)
		if (got == "") != (tc.want == "") || got != "" && f.Meta.Start.Sub(w).Abs() > time.Millisecond {
			t.Errorf("%q start at %q, want %q (%v)", tc.cards, got, tc.want, f.Findings)
		}
	}
}

func TestAngles(t *testing.T) {
	for _, tc := range []struct {
		text        string
		want        float64
		sexagesimal bool
	}{
		{"-25:17:06", -25.285, true},
		{" 18:15:29", 18 + 15./60 + 29./3600, true},
		{"+49 49 09", 49 + 49./60 + 9./3600, true},
		{"-00:55:31", -(55./60 + 31./3600), true},
		{"4:46:17.", 4 + 46./60 + 17./3600, true},
		{"-25d17m06s", -25.285, true},
		{"+49°49'09\"", 49 + 49./60 + 9./3600, true},
		{"11 11 00 N", 11 + 11./60, true},
		{"11 11 00 S", -(11 + 11./60), true},
		{"71,5", 71.5, false},
		{"11.5 W", -11.5, false},
		{"273.8708", 273.8708, false},
	} {
		v, sexagesimal, ok := parseAngle(tc.text)
		if !ok || !(math.Abs(v-tc.want) <= 1e-12) || sexagesimal != tc.sexagesimal {
			t.Errorf("parseAngle(%q) = %v %v %v, want %v %v", tc.text, v, sexagesimal, ok, tc.want, tc.sexagesimal)
		}
	}
	for _, bad := range []string{"", "a:b:c", "10:99:00", "10:-5:00", "1:2:3:4", "north"} {
		if v, _, ok := parseAngle(bad); ok {
			t.Errorf("parseAngle(%q) = %v, want a refusal", bad, v)
		}
	}
}

func TestMeta(t *testing.T) {
	nan := math.NaN()
	for _, tc := range []struct {
		name  string
		cards []string
		got   func(m Meta) any
		want  any
	}{
		{"exposure in ms", []string{"EXPOSMS = 1500"}, func(m Meta) any { return m.Exposure }, 1.5},
		{"exposure in µs", []string{"EXPOINUS= 250000"}, func(m Meta) any { return m.Exposure }, 0.25},
		{"exposure with unit", []string{"EXPTIME = '500 ms'"}, func(m Meta) any { return m.Exposure }, 0.5},
		{"exposure with unit in the comment", []string{"EXPTIME = 2.0 / [min] open"}, func(m Meta) any { return m.Exposure }, 120.},
		{"exposure 0", []string{"EXPTIME = 0.0", "EXPOSURE= 0"}, func(m Meta) any { return m.Exposure }, 0.},
		{"focal length in m", []string{"FOCALLEN= '1.2 m'"}, func(m Meta) any { return m.FocalLength }, 1200.},
		{"focal length with unit mm", []string{"FOCALLEN= 750.0 / [mm] focal length"}, func(m Meta) any { return m.FocalLength }, 750.},
		{"pixel size in mm", []string{"XPIXSZ  = '0.00376 mm'"}, func(m Meta) any { return m.PixelSize }, 3.76},
		{"site not set", []string{"SITELAT = '00 00 00'", "SITELONG= '00 00 00'"}, func(m Meta) any { return [2]float64{m.SiteLat, m.SiteLon} }, [2]float64{nan, nan}},
		{"pointing not set", []string{"RA      = 0.0", "DEC     = 0.0"}, func(m Meta) any { return [2]float64{m.RA, m.Dec} }, [2]float64{nan, nan}},
		{"on the equator", []string{"RA      = 10.0", "DEC     = 0.0"}, func(m Meta) any { return [2]float64{m.RA, m.Dec} }, [2]float64{10, 0}},
		{"exposure with decimal comma", []string{"EXPTIME = '2,00000 '"}, func(m Meta) any { return m.Exposure }, 2.},
		{"exposure negative, another card", []string{"EXPTIME = -1", "EXPOSURE= 30"}, func(m Meta) any { return m.Exposure }, 30.},
		{"kelvin", []string{"CCD-TEMP= 180.1"}, func(m Meta) any { return m.SensorTemp }, -93.05},
		{"unit C", []string{"CAMTEMP = '11 C'"}, func(m Meta) any { return m.SensorTemp }, 11.},
		{"missing probe", []string{"CCD-TEMP= -999", "TEMPERAT= -5"}, func(m Meta) any { return m.SensorTemp }, -5.},
		{"absolute zero", []string{"CCD-TEMP= -273.15"}, func(m Meta) any { return m.SensorTemp }, nan},
		{"gain setting", []string{"GAIN    = 100", "EGAIN   = 0.25"}, func(m Meta) any { return [2]float64{m.GainSetting, m.ElectronsPerADU} }, [2]float64{100, 0.25}},
		{"gain by comment", []string{"GAIN    = 2 / [e-/ADU]"}, func(m Meta) any { return [2]float64{m.GainSetting, m.ElectronsPerADU} }, [2]float64{nan, 2}},
		{"gain with a fraction", []string{"GAIN    = 1.9"}, func(m Meta) any { return [2]float64{m.GainSetting, m.ElectronsPerADU} }, [2]float64{nan, 1.9}},
		{"gain with a fraction beside EGAIN", []string{"GAIN    = 1.5", "EGAIN   = 2"}, func(m Meta) any { return [2]float64{m.GainSetting, m.ElectronsPerADU} }, [2]float64{1.5, 2}},
		{"gain 0 is a setting", []string{"GAIN    = 0"}, func(m Meta) any { return m.GainSetting }, 0.},
		{"EGAIN 0 is unknown", []string{"EGAIN   = 0"}, func(m Meta) any { return m.ElectronsPerADU }, nan},
		{"ISO", []string{"ISO     = 800"}, func(m Meta) any { return m.GainSetting }, 800.},
		{"binning apart", []string{"XBINNING= 2", "YBINNING= 3"}, func(m Meta) any { return fmt.Sprint(m.BinX, m.BinY) }, "2 3"},
		{"binning 2x2", []string{"BINNING = '2x2'"}, func(m Meta) any { return fmt.Sprint(m.BinX, m.BinY) }, "2 2"},
		{"binning in a mode", []string{"DATAMODE= '1X1 BIN '"}, func(m Meta) any { return fmt.Sprint(m.BinX, m.BinY) }, "1 1"},
		{"binning sums", []string{"CCDSUM  = '2 4'"}, func(m Meta) any { return fmt.Sprint(m.BinX, m.BinY) }, "2 4"},
		{"binning unknown", nil, func(m Meta) any { return fmt.Sprint(m.BinX, m.BinY) }, "1 1"},
		{"pixel size after binning", []string{"XPIXSZ  = 7.52", "XBINNING= 2"}, func(m Meta) any { return m.PixelSize }, 7.52},
		{"pixel size of the sensor", []string{"PIXSIZE1= 3.76", "XBINNING= 2"}, func(m Meta) any { return m.PixelSize }, 7.52},
		{"focal length 0", []string{"FOCALLEN= 0.0", "APTDIA  = 0"}, func(m Meta) any { return [2]float64{m.FocalLength, m.Aperture} }, [2]float64{nan, nan}},
		{"right ascension sexagesimal", []string{"RA      = ' 18:15:29'"}, func(m Meta) any { return math.Round(m.RA * 1e4) }, 2738708.},
		{"right ascension in hours", []string{"RA      = 1.5 / [h] pointing"}, func(m Meta) any { return m.RA }, 22.5},
		{"right ascension in degrees", []string{"RA_OBS  = 273.8708"}, func(m Meta) any { return m.RA }, 273.8708},
		{"right ascension impossible", []string{"RA      = 1117.786"}, func(m Meta) any { return m.RA }, nan},
		{"objective cards", []string{"OBJCTRA = '09 02 22'", "OBJCTDEC= '+49 49 09'"}, func(m Meta) any { return fmt.Sprintf("%.4f %.4f", m.RA, m.Dec) }, "135.5917 49.8192"},
		{"objective card as a number of hours", []string{"OBJCTRA = 9.04"}, func(m Meta) any { return m.RA }, 9.04 * 15},
		{"objective card as degrees", []string{"OBJCTRA = 135.6"}, func(m Meta) any { return m.RA }, 135.6},
		{"plate solution", []string{"CTYPE1  = 'RA---TAN'", "CRVAL1  = 10", "CTYPE2  = 'DEC--TAN'", "CRVAL2  = -20"}, func(m Meta) any { return [2]float64{m.RA, m.Dec} }, [2]float64{10, -20}},
		{"pixel axes", []string{"CTYPE1  = 'PIXEL'", "CRVAL1  = 10"}, func(m Meta) any { return m.RA }, nan},
		{"site", []string{"SITELAT = '11 11 00'", "SITELONG= '-11 11 11'"}, func(m Meta) any { return fmt.Sprintf("%.5f %.5f", m.SiteLat, m.SiteLon) }, "11.18333 -11.18639"},
		{"site east of 180", []string{"LONG-OBS= 250.0"}, func(m Meta) any { return m.SiteLon }, -110.},
		{"pier side", []string{"PIERSIDE= 'East'"}, func(m Meta) any { return m.PierSide }, "east"},
		{"pier side by driver name", []string{"PIERSIDE= 'pierWest'"}, func(m Meta) any { return m.PierSide }, "west"},
		{"pier side unknown", []string{"PIERSIDE= -1"}, func(m Meta) any { return m.PierSide }, ""},
		{"filter none", []string{"FILTER  = 'None'"}, func(m Meta) any { return m.Filter }, ""},
		{"filter empty, another card", []string{"FILTER  = ''", "FILTNAM1= 'Ha'"}, func(m Meta) any { return m.Filter }, "Ha"},
		{"filter is a colour pattern", []string{"FILTER  = 'RGGB'"}, func(m Meta) any { return string(m.Filter) + m.Bayer }, "RGGB"},
		{"pattern by driver number and offset", []string{"COLORTYP= 2", "XBAYROFF= 1"}, func(m Meta) any { return m.Bayer }, "GRBG"},
		{"pattern from the top", []string{"BAYERPAT= 'RGGB'", "ROWORDER= 'BOTTOM-UP'"}, func(m Meta) any { return m.Bayer }, "GBRG"},
		{"pattern as stored", []string{"BAYERPAT= 'RGGB'", "ROWORDER= 'TOP-DOWN'"}, func(m Meta) any { return m.Bayer }, "RGGB"},
		{"HIERARCH", []string{"HIERARCH ESO DET WIN1 DIT1 = 12.5"}, func(m Meta) any { return m.Exposure }, 12.5},
		{"calibrated", []string{"CALSTAT = 'BDF'"}, func(m Meta) any { return m.DarkSubtracted }, true},
		{"calibrated by history", []string{"HISTORY Dark corrected with mdark60"}, func(m Meta) any { return m.DarkSubtracted }, true},
		{"calibrated, but for the flat", []string{"HISTORY bias subtracted, not flat-fielded"}, func(m Meta) any { return m.DarkSubtracted }, true},
		{"no dark was taken off", []string{"HISTORY no dark subtraction"}, func(m Meta) any { return m.DarkSubtracted }, false},
		{"nor here", []string{"HISTORY dark subtraction = off"}, func(m Meta) any { return m.DarkSubtracted }, false},
		{"a word with the letters", []string{"CALSTAT = 'uncalibrated'"}, func(m Meta) any { return m.DarkSubtracted }, false},
		{"not calibrated", []string{"HISTORY Exposed in dark night"}, func(m Meta) any { return m.DarkSubtracted }, false},
		{"plate scale claimed", []string{"SECPIX  = 0.55"}, func(m Meta) any { return m.PixelScale() }, 0.55},
	} {
		f := scanBytes(t, "x.fits", twoByTwo(tc.cards...))
		if f.Err != nil {
			t.Errorf("%s: %v", tc.name, f.Err)
			continue
		}
		// As text, so that NaN is like NaN.
		if got := fmt.Sprint(tc.got(f.Meta)); got != fmt.Sprint(tc.want) {
			t.Errorf("%s: got %v, want %v (%v)", tc.name, got, tc.want, f.Findings)
		}
	}
}

// Plate scale: 206.265 x 3.76 µm / 1000 mm (arcseconds per radian, exact maths).
func ExampleMeta_PixelScale() {
	m := NoMeta()
	m.PixelSize, m.FocalLength = 3.76, 1000
	fmt.Printf("%.4f arcsec/px\n", m.PixelScale())
	// Output: 0.7756 arcsec/px
}
