package frames

import (
	"math"
	"regexp"
	"slices"
	"strings"

	"fitsqa/internal/fact"
	"fitsqa/internal/names"
)

// Capture programs write settings into file names, and some that write hardly any
// header. What a name tells holds only where the header is silent, and only where it
// can be read in one way: a figure with its unit, standing by itself. The forms are
// common practice, no source.

var (
	// exposureInName is a time by itself ("_300s_", "-0.5sec.", "Dark300s"), behind a
	// separator or a word; the word is looked at apart.
	exposureInName = regexp.MustCompile(`(?i)(?:^|[-_ .(]|([a-z]+))(\d+(?:[.,]\d+)?) ?(s|secs?|seconds?|ms|us|min)(?:$|[-_ .)])`)
	// temperatureInName is one with its scale ("_-10C_", "_-10.0degC", "_5C"). A dash
	// behind a figure or a word may part or be a sign, and tells nothing.
	temperatureInName = regexp.MustCompile(`(?i)(?:^|[_ (])([-+]?\d+(?:[.,]\d+)?) ?(?:°|deg)?C(?:$|[-_ .)])`)
	gainInName        = regexp.MustCompile(`(?i)(?:^|[^a-z])gain[-_ ]?(\d+(?:[.,]\d+)?)(?:$|[-_ .)])`)
)

// secondsOf are the units of exposureInName, s, by what they begin with.
func secondsOf(unit string) float64 {
	switch unit = strings.ToLower(unit); {
	case unit == "ms":
		return 1e-3
	case unit == "us":
		return 1e-6
	case unit == "min":
		return 60
	}
	return 1
}

// settingsFromName takes exposure, temperature and gain from the file's name where the
// header has none.
func (f *Frame) settingsFromName() {
	m, name := &f.Meta, f.stem()
	var told []string
	take := func(what string, to *float64, found []float64) {
		if math.IsNaN(*to) && len(found) == 1 {
			*to, told = found[0], append(told, what)
		}
	}
	take("exposure", &m.Exposure, exposuresIn(name))
	if math.IsNaN(m.SensorTemp) {
		take("temperature", &m.SetTemp, numbersIn(temperatureInName, name, within(-100, 60)))
	}
	take("gain", &m.GainSetting, numbersIn(gainInName, name, within(0, 1e5)))
	if len(told) > 0 {
		f.warn(SettingsByName, fact.Text("settings", strings.Join(told, ", ")))
	}
}

// stem is the file's name without what tells its format.
func (f *Frame) stem() string {
	name := f.base()
	for _, end := range []string{".gz", ".fz", ".fits", ".fit", ".fts"} {
		if len(name) > len(end) && strings.EqualFold(name[len(name)-len(end):], end) {
			name = name[:len(name)-len(end)]
		}
	}
	return name
}

// exposuresIn are the times in a name, s. Behind a word that is neither a kind nor an
// exposure's a number belongs to that word, as in a catalogue's.
func exposuresIn(name string) []float64 {
	var found []float64
	for _, m := range overlapping(exposureInName, name) {
		word := strings.ToLower(m[1])
		if _, kind := kindWords[word]; word != "" && !kind && word != "exp" && word != "exposure" {
			continue
		}
		if v, _, ok := parseNumber(m[2]); ok && v*secondsOf(m[3]) <= 1e5 {
			found = append(found, v*secondsOf(m[3]))
		}
	}
	return distinct(found)
}

// numbersIn are the numbers that a pattern's first group finds in a name.
func numbersIn(pattern *regexp.Regexp, name string, sane func(float64) bool) []float64 {
	var found []float64
	for _, m := range overlapping(pattern, name) {
		if v, _, ok := parseNumber(m[1]); ok && sane(v) {
			found = append(found, v)
		}
	}
	return distinct(found)
}

// overlapping finds all matches of a pattern, the separator behind one being that
// before the next too.
func overlapping(pattern *regexp.Regexp, name string) [][]string {
	var all [][]string
	for at := 0; at < len(name); {
		loc := pattern.FindStringSubmatchIndex(name[at:])
		if loc == nil {
			break
		}
		all = append(all, pattern.FindStringSubmatch(name[at:]))
		at += max(loc[0]+1, loc[1]-1)
	}
	return all
}

func distinct(v []float64) []float64 {
	slices.Sort(v)
	return slices.Compact(v)
}

// filterIn is the filter that a name has as a part of its own, and whether that part
// is a word and no mere letter; "" for none or several.
func filterIn(name string) (found names.Name, word bool) {
	for _, p := range strings.FieldsFunc(name, func(r rune) bool { return strings.ContainsRune("-_ .()", r) }) {
		switch f, usual := names.Name(p).Filter(); {
		case !usual:
		case found != "" && f.Name != found:
			return "", false
		default:
			found, word = f.Name, word || len(p) > 1
		}
	}
	return found, word
}

// filterFromPath is the filter by the file's name, else by the nearest folder of
// which one is the name.
func (f *Frame) filterFromPath() (found names.Name, word bool) {
	if found, word = filterIn(f.stem()); found != "" {
		return found, word
	}
	for _, folder := range slices.Backward(f.folders) {
		if usual, ok := names.Name(folder).Filter(); ok {
			return usual.Name, len(folder) > 1
		}
	}
	return "", false
}

// filtersFromNames gives flats and subs of monochrome cameras whose header names no
// filter the one of their file's or folder's name. A letter may be anything else ("L"
// for light): names count only where every silent flat and sub of the camera's size has
// one, and where they tell more than one filter, one that headers name, or a word.
func filtersFromNames(fs []*Frame) {
	inHeaders := map[names.Key]bool{}
	silent := map[[2]int][]*Frame{}
	for _, f := range fs {
		if f.Err != nil || f.Kind != Flat && f.Kind != Light {
			continue
		}
		if f.Meta.Filter != "" {
			inHeaders[f.Meta.Filter.Key()] = true
			continue
		}
		size := [2]int{f.Image.Width, f.Image.Height}
		silent[size] = append(silent[size], f)
	}
	for _, alike := range silent {
		if !filtersNamed(alike, inHeaders) {
			continue
		}
		for _, f := range alike {
			f.Meta.Filter, _ = f.filterFromPath()
			f.warn(FilterByName)
		}
	}
}

func filtersNamed(fs []*Frame, inHeaders map[names.Key]bool) bool {
	sure := false
	first, _ := fs[0].filterFromPath()
	for _, f := range fs {
		n, word := f.filterFromPath()
		if n == "" || f.Meta.Bayer != "" {
			return false
		}
		sure = sure || word || n != first || inHeaders[n.Key()]
	}
	return sure
}
