package frames

import (
	"strconv"
	"strings"

	"fitsqa/internal/fact"
)

// parseSection reads a section such as "[17:528,1:520]": first and last pixel
// along x and y, counted from 1, blanks allowed, either end first. Common
// practice, no source.
func parseSection(s string) (Section, bool) {
	s = strings.ReplaceAll(strings.TrimSpace(s), " ", "")
	s, ok1 := strings.CutPrefix(s, "[")
	s, ok2 := strings.CutSuffix(s, "]")
	xs, ys, ok3 := strings.Cut(s, ",")
	if !ok1 || !ok2 || !ok3 {
		return Section{}, false
	}
	x0, x1, okx := parseRange(xs)
	y0, y1, oky := parseRange(ys)
	return Section{X0: x0 - 1, Y0: y0 - 1, X1: x1, Y1: y1}, okx && oky
}

func parseRange(s string) (lo, hi int, ok bool) {
	a, b, cut := strings.Cut(s, ":")
	lo, err1 := strconv.Atoi(a)
	hi, err2 := strconv.Atoi(b)
	if lo > hi {
		lo, hi = hi, lo
	}
	return lo, hi, cut && err1 == nil && err2 == nil && lo >= 1 && hi <= maxAxis
}

func (s Section) within(w, h int) bool {
	return !s.empty() && s.X0 >= 0 && s.Y0 >= 0 && s.X1 <= w && s.Y1 <= h
}

// without is the section without a strip along one of its edges; all of it where the other
// is no such strip, or more than half.
func (s Section) without(strip Section) Section {
	whole := s
	switch high, wide := strip.Y0 == s.Y0 && strip.Y1 == s.Y1, strip.X0 == s.X0 && strip.X1 == s.X1; {
	case strip.empty():
	case high && strip.X0 == s.X0:
		s.X0 = strip.X1
	case high && strip.X1 == s.X1:
		s.X1 = strip.X0
	case wide && strip.Y0 == s.Y0:
		s.Y0 = strip.Y1
	case wide && strip.Y1 == s.Y1:
		s.Y1 = strip.Y0
	}
	if 2*(s.X1-s.X0) < whole.X1-whole.X0 || 2*(s.Y1-s.Y0) < whole.Y1-whole.Y0 {
		return whole
	}
	return s
}

// sections settles which part of the stored image is picture and which is overscan: by
// the section of the picture, else by that of a strip of overscan. A trim section that
// reaches outside the image was applied already by some program and is left alone.
func (u *unit) sections(m *Meta) (warnings []fact.Fact) {
	u.trim = Section{X1: u.width, Y1: u.height}
	full := u.trim
	var overscan Section
	if c, ok := u.header.get("BIASSEC"); ok {
		s, sound := parseSection(c.value)
		if m.Overscan = sound && s.within(u.width, u.height) && s != full; m.Overscan {
			overscan = s
		}
	}
	for _, key := range []string{"TRIMSEC", "DATASEC"} {
		c, ok := u.header.get(key)
		if !ok || c.value == "" {
			continue
		}
		s, ok := parseSection(c.value)
		if !ok {
			warnings = append(warnings, fact.Of(SectionUnread, ofCard(key, c)...))
			continue
		}
		if !s.within(u.width, u.height) {
			warnings = append(warnings, fact.Of(SectionOutside, append(ofCard(key, c), fact.Count("width_px", u.width), fact.Count("height_px", u.height))...))
			return warnings
		}
		u.trim = s
		break
	}
	if u.trim == full {
		u.trim = full.without(overscan)
	}
	if u.trim == full {
		return warnings
	}
	return append(warnings, fact.Of(Trimmed, fact.Count("width_px", u.trim.X1-u.trim.X0), fact.Count("height_px", u.trim.Y1-u.trim.Y0),
		fact.Count("stored_width_px", u.width), fact.Count("stored_height_px", u.height)))
}
