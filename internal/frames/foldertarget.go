package frames

import (
	"math"
	"path"
	"regexp"
	"slices"
	"strings"
	"unicode"

	"fitsqa/internal/names"
)

// targetsFromFolders gives subs whose header names no target that of the told ones before
// and after them in the folder, where these agree or one of them points where they do, else
// the name of their folder: the nearest that is no kind, filter, date, number or common word.
func targetsFromFolders(fs []*Frame) {
	filters := map[names.Key]bool{}
	for _, f := range fs {
		filters[f.Meta.Filter.Key()] = true
	}
	beside := targetsBeside(fs)
	for i, f := range fs {
		if f.Meta.Target != "" || f.Kind != Light {
			continue
		}
		if f.Meta.Target = beside[i]; f.Meta.Target != "" {
			f.Meta.TargetFromFolder = true
			continue
		}
		for _, folder := range slices.Backward(f.folders) {
			if n := names.Name(folder); namesTarget(folder) && !filters[n.Key()] {
				f.Meta.Target, f.Meta.TargetFromFolder = n, true
				break
			}
		}
	}
}

// targetsBeside are the targets that headers tell of the nearest subs of one camera before
// and after each frame in its folder, where these are one, else of the one that points where
// the frame does; "" for neither.
func targetsBeside(fs []*Frame) []names.Name {
	type place struct {
		folder        string
		camera        names.Key
		width, height int
	}
	of := func(f *Frame) place {
		return place{path.Dir(f.Path), f.Meta.Camera.Key(), f.Image.Width, f.Image.Height}
	}
	told := func(f *Frame) bool { return f.Kind == Light && f.Meta.Target != "" }
	before := make([]*Frame, len(fs))
	last, next := map[place]*Frame{}, map[place]*Frame{}
	for i, f := range fs {
		if before[i] = last[of(f)]; told(f) {
			last[of(f)] = f
		}
	}
	beside := make([]names.Name, len(fs))
	for i, f := range slices.Backward(fs) {
		a, b := before[i], next[of(f)]
		switch {
		case a != nil && b != nil && a.Meta.Target.Is(b.Meta.Target), f.pointsWith(a):
			beside[i] = a.Meta.Target
		case f.pointsWith(b):
			beside[i] = b.Meta.Target
		}
		if told(f) {
			next[of(f)] = f
		}
	}
	return beside
}

// pointsWith tells that the headers of two frames point at one place, further apart than
// dither and nearer than neighbouring targets are (common practice, no source).
func (f *Frame) pointsWith(o *Frame) bool {
	const near = 0.25 // degrees
	if o == nil {
		return false
	}
	east := math.Remainder(f.Meta.RA-o.Meta.RA, 360)
	if f.Meta.RABare { // hours, it may be
		east *= 15
	}
	return math.Hypot(east*math.Cos(f.Meta.Dec*math.Pi/180), f.Meta.Dec-o.Meta.Dec) < near
}

// folderWords are folders that every night has. Common practice, no source.
var folderWords = map[string]bool{"night": true, "nights": true, "session": true, "sessions": true, "raw": true, "raws": true, "data": true,
	"fits": true, "fit": true, "image": true, "images": true, "img": true, "capture": true, "captures": true, "astro": true, "good": true,
	"bad": true, "ok": true, "filter": true, "exposure": true, "gain": true, "bin": true, "binning": true, "tmp": true, "temp": true,
	"test": true, "camera": true, "set": true, "run": true, "sequence": true, "frames": true, "panel": true, "s": true, "sec": true,
	"autosave": true, "snapshot": true, "east": true, "west": true, "h": true, "o": true, "clear": true}

// datedName is a folder called by a date.
var datedName = regexp.MustCompile(`^(19|20)\d{2}[-_. ]?\d{2}[-_. ]?\d{2}|^\d{2}[-_.]\d{2}[-_.]\d{2}`)

// namesTarget tells whether a folder's name can be a target's: a word in it is no
// kind and no common word, or a catalogue's letter and number.
func namesTarget(folder string) bool {
	if datedName.MatchString(folder) || kindOf(folder, false) != Unknown {
		return false
	}
	list := words(folder)
	if len(list) == 0 || isDigits(folder) {
		return false
	}
	digit := strings.ContainsFunc(folder, unicode.IsDigit)
	for _, w := range list {
		if _, filter := names.Name(w).Filter(); !folderWords[w] && !filter && (len(w) > 1 || digit) {
			return true
		}
	}
	return false
}
