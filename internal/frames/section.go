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

// within tells whether the section lies inside an image.
func (s Section) within(w, h int) bool {
	return !s.empty() && s.X0 >= 0 && s.Y0 >= 0 && s.X1 <= w && s.Y1 <= h
}

// sections settles which part of the stored image is picture and which is
// overscan. A trim section that reaches outside the image was applied already
// by some program and is left alone.
func (u *unit) sections(m *Meta) (warnings []fact.Fact) {
	u.trim = Section{X1: u.width, Y1: u.height}
	full := u.trim
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
		return warnings
	}
	return append(warnings, fact.Of(Trimmed, fact.Count("width_px", u.trim.X1-u.trim.X0), fact.Count("height_px", u.trim.Y1-u.trim.Y0),
		fact.Count("stored_width_px", u.width), fact.Count("stored_height_px", u.height)))
}
