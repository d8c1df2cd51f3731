package frames

import (
	"path"
	"regexp"
	"slices"
	"strings"

	"fitsqa/internal/fact"
	"fitsqa/internal/names"
)

// kindWords maps what headers, folders and file names call a frame, in lower
// case. A frame called both flat and dark is a dark shot to match flats. The
// words are common practice in several languages, no source.
var kindWords = map[string]Kind{
	"bias": Bias, "biases": Bias, "zero": Bias, "biasframe": Bias, "biasframes": Bias, "superbias": Bias,
	"dark": Dark, "darks": Dark, "darkframe": Dark, "darkframes": Dark, "darkflat": Dark, "darkflats": Dark, "flatdark": Dark,
	"flatdarks": Dark, "dunkelbild": Dark, "noir": Dark, "noirs": Dark,
	"flat": Flat, "flats": Flat, "flatfield": Flat, "flatfields": Flat, "flatframe": Flat, "flatframes": Flat, "skyflat": Flat,
	"skyflats": Flat, "domeflat": Flat, "domeflats": Flat, "twilightflat": Flat, "panelflat": Flat, "flt": Flat, "plu": Flat,
	"flachbild": Flat,
	"light":     Light, "lights": Light, "lightframe": Light, "lightframes": Light, "hellbild": Light, "lichtbild": Light,
	"sub": Light, "subs": Light, "subframe": Light, "science": Light, "luces": Light,
}

// headerOnly are words that mean a kind in a header but not in a name, where
// they may be anything else.
var headerOnly = map[string]Kind{
	"object": Light, "sci": Light, "target": Light, "tricolor": Light, "image": Light, "offset": Bias, "obj": Light,
	"twilight": Flat, "dome": Flat,
	"1": Light, "2": Bias, "3": Dark, "4": Flat, // PICTTYPE's numbers
}

// skyWords follow "dark" in what names a nebula or a place and no kind of frame.
var skyWords = map[string]bool{"nebula": true, "nebulae": true, "cloud": true, "shark": true, "wolf": true, "horse": true,
	"lane": true, "matter": true, "sky": true, "skies": true, "site": true, "night": true, "tower": true}

// doneWords follow a kind of calibration frame that was applied to the file.
var doneWords = map[string]bool{"corrected": true, "subtracted": true, "sub": true, "removed": true, "calibrated": true, "cal": true, "divided": true, "corr": true}

// kindOf finds the kind in a text: the words of header values, folders, names.
func kindOf(text string, header bool) Kind {
	found := Unknown
	list := words(text)
	for i, w := range list {
		k, ok := kindWords[w]
		if !ok && header {
			k, ok = headerOnly[w]
		}
		if i+1 < len(list) && (w == "dark" && skyWords[list[i+1]] || k.isCalibration() && doneWords[list[i+1]]) {
			ok = false
		}
		switch {
		case !ok:
		case found == Unknown, found == Light && k != Light, found == Flat && k == Dark:
			found = k
		}
	}
	return found
}

// kindWordsOnly are words that go with a kind and say nothing of a target.
var kindWordsOnly = map[string]bool{"frame": true, "frames": true, "field": true, "fields": true, "image": true, "images": true, "exposure": true,
	"sky": true, "dome": true, "twilight": true, "panel": true, "lamp": true, "screen": true, "morning": true, "evening": true, "dusk": true, "dawn": true, "master": true}

// kindAlone is the kind that a target's name is nothing but the name of.
func kindAlone(target string) Kind {
	k := kindOf(target, false)
	for _, w := range words(target) {
		if _, kind := kindWords[w]; !kind && !kindWordsOnly[w] {
			return Unknown
		}
	}
	return k
}

// isCalibration tells the kinds that measure the camera, not the sky.
func (k Kind) isCalibration() bool { return k == Bias || k == Dark || k == Flat }

// kindFromPath finds the kind in the folders, the nearest first, and in the
// file name.
func kindFromPath(folders []string, name string) (folder, file Kind) {
	for _, f := range slices.Backward(folders) {
		if folder = kindOf(f, false); folder != Unknown {
			break
		}
	}
	return folder, kindOf(name, false)
}

// classify settles the kind: header, folder, file name, pixels, in this order.
// What header, folder or name call calibration is never a light: capture programs
// leave "Light Frame" standing. With stars in it, it is neither.
func (f *Frame) classify(headerKind string, folders []string) {
	f.Kind, f.KindSource = Unknown, ""
	header := kindOf(headerKind, true)
	if header == Unknown {
		header = f.objectKind
	}
	folder, file := kindFromPath(f.notTheTarget(folders), path.Base(f.Name))
	named, source := file, KindFromName
	if named == Unknown {
		named, source = folder, KindFromFolder
	}
	if named == Unknown && f.objectKind.isCalibration() {
		named, source = f.objectKind, KindFromHeader
	}
	switch pixels := f.kindFromPixels(); {
	case header == Light && named.isCalibration():
		f.takeName(headerKind, named, source)
		f.contradictions()
		return
	case header != Unknown:
		f.Kind, f.KindSource = header, KindFromHeader
	case folder != Unknown:
		f.Kind, f.KindSource = folder, KindFromFolder
	case file != Unknown:
		f.Kind, f.KindSource = file, KindFromName
	case pixels != Unknown:
		f.Kind, f.KindSource = pixels, KindFromPixels
	}
	if header != Unknown && named != Unknown && named != header {
		f.warn(KindByHeader, fact.Text("header", string(header)), fact.Text("name", string(named)))
	}
	f.contradictions()
}

// unnamed tells that neither header nor folder nor file name says what kind the frame is.
func (f *Frame) unnamed() bool {
	folder, file := kindFromPath(f.notTheTarget(f.folders), path.Base(f.Name))
	return kindOf(f.headerKind, true) == Unknown && f.objectKind == Unknown && folder == Unknown && file == Unknown
}

// takeName settles a frame whose header says light and whose name says calibration.
func (f *Frame) takeName(headerKind string, named Kind, source KindSource) {
	if f.Disputed = f.look.starry(); f.Disputed {
		f.warn(KindOpen, fact.Text("header", Printable(headerKind)), fact.Text("name", string(named)))
		return
	}
	f.Kind, f.KindSource = named, source
	f.warn(KindByName, fact.Text("header", Printable(headerKind)), fact.Text("name", string(named)))
}

// notTheTarget are the folders without those that are named after the target.
func (f *Frame) notTheTarget(folders []string) []string {
	if f.Meta.Target == "" || f.Meta.TargetFromFolder {
		return folders
	}
	return slices.DeleteFunc(slices.Clone(folders), func(name string) bool { return names.Name(name).Is(f.Meta.Target) })
}

// contradictions compares the kind with exposure and pixels.
func (f *Frame) contradictions() {
	l := f.look
	switch f.Kind {
	case Bias:
		if f.Meta.Exposure > maxBiasExposure {
			f.warn(BiasLong, exposureValue(f.Meta.Exposure))
		}
		if l.starry() {
			f.warn(BiasStarry)
		}
	case Dark:
		if l.starry() {
			f.warn(DarkStarry)
		}
		if f.flatLike() {
			f.warn(DarkBright)
		}
		if f.Meta.Exposure <= shortestDark && !f.flatLike() {
			f.warn(DarkIsBias, exposureValue(f.Meta.Exposure))
			f.Kind = Bias
		}
	case Flat:
		if l.starry() && !f.bright() {
			f.warn(FlatStarry)
		}
	case Light:
		if f.flatLike() {
			f.warn(LightFlat)
		}
	}
}

// shortestDark, in seconds: up to it a dark gathers nothing that a bias does not
// have (a hot pixel of 100 e-/s gives 10 e-). Common practice, no source.
const shortestDark = 0.1

// maxBiasExposure, in seconds, is more than any camera needs for a bias.
// Common practice, no source.
const maxBiasExposure = 1

var combinedLine = regexp.MustCompile(`(?i)\b(stacked|combined|integrat\w+|averaged|median of|mean of|sum of) .*\b\d+ (frames|images|files|subs|exposures)\b|\b\d+ (frames|images|files|subs) (stacked|combined|averaged)`)

// isMaster tells whether the frame was combined from several: a count of
// frames, a word in the header's kind or in the name, or the history.
func isMaster(h *header, headerKind, name string, kind Kind) bool {
	l := &lookup{h: h}
	if l.number(synonyms.frameCount, 0, within(0, 1e6)) > 1 {
		return true
	}
	for _, w := range append(words(headerKind), words(name)...) {
		switch w {
		case "master", "masterbias", "masterdark", "masterflat", "masterlight", "stacked", "stack", "superbias", "superdark", "superflat",
			"integration", "combined", "coadd", "coadded":
			return true
		case "median", "mean", "avg", "average", "averaged", "mittel", "combine", "integrated":
			if kind.isCalibration() {
				return true
			}
		}
	}
	if c, ok := h.get("CALSTAT"); ok && (kind == Dark || kind == Flat) && calibrationLetters.MatchString(c.value) && strings.ContainsAny(strings.ToUpper(c.value), "BDF") {
		return true
	}
	return slices.ContainsFunc(h.history, combinedLine.MatchString)
}
