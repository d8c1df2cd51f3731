package frames

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"fitsqa/internal/fact"
)

const (
	maxAxis  = 1 << 20 // px along one axis
	maxAxes  = 999     // FITS 4.0 section 4.4.1.1
	maxBytes = 1 << 46 // of one data unit: a bound against overflow, not a promise
)

// hdu is the structure of one header-and-data unit: what its data are and how
// many bytes they take.
type hdu struct {
	name      string // "", "IMAGE", "BINTABLE", ...
	bitpix    int
	axes      []int64
	dataBytes int64 // without padding
	groups    bool
}

// structure reads the mandatory keywords (FITS 4.0 section 4.4.1) and checks
// every size for overflow.
func (h *header) structure(first bool) (hdu, error) {
	var u hdu
	if first {
		if ok, known := h.truth("SIMPLE"); known && !ok {
			return u, &UnsupportedError{"SIMPLE = F: the file says that it does not follow the FITS standard"}
		} else if !known {
			return u, &FormatError{"not a FITS file: no SIMPLE = T"}
		}
	} else {
		c, ok := h.structural("XTENSION")
		if !ok {
			return u, &FormatError{"an extension without XTENSION"}
		}
		u.name = strings.ToUpper(c.value)
		if u.name == "" {
			u.name = "unnamed"
		}
	}
	bitpix, err := h.integer("BITPIX", 0)
	if err != nil {
		return u, err
	}
	switch bitpix {
	case 8, 16, 32, 64, -32, -64:
		u.bitpix = int(bitpix)
	default:
		return u, &FormatError{fmt.Sprintf("BITPIX is %d", bitpix)}
	}
	naxis, err := h.integer("NAXIS", -1)
	if err != nil {
		return u, err
	}
	if naxis < 0 || naxis > maxAxes {
		return u, &FormatError{fmt.Sprintf("NAXIS is missing or out of range (%d)", naxis)}
	}
	u.groups, _ = h.truth("GROUPS")
	u.groups = u.groups && first
	return u, h.sizes(&u, int(naxis), first)
}

// sizes reads the axes and works out the bytes of the data unit:
// |BITPIX|/8 x GCOUNT x (PCOUNT + product of axes), FITS 4.0 equations 1 and 2.
func (h *header) sizes(u *hdu, naxis int, first bool) error {
	elements := int64(1)
	if naxis == 0 {
		elements = 0
	}
	for i := 1; i <= naxis; i++ {
		key := fmt.Sprintf("NAXIS%d", i)
		n, err := h.integer(key, -1)
		if err != nil {
			return err
		}
		if n < 0 {
			return &FormatError{fmt.Sprintf("%s is missing or negative", key)}
		}
		u.axes = append(u.axes, n)
		if i == 1 && n == 0 && u.groups {
			continue // random groups: the product runs over the other axes
		}
		var ok bool
		if elements, ok = product(elements, n); !ok {
			return &FormatError{"axes of " + byAxes(u.axes) + " are too large for any file"}
		}
	}
	pcount, gcount := int64(0), int64(1)
	if !first || u.groups {
		var err error
		if pcount, err = h.integer("PCOUNT", 0); err != nil {
			return err
		}
		if gcount, err = h.integer("GCOUNT", 1); err != nil {
			return err
		}
		if pcount < 0 || gcount < 0 || pcount > maxBytes {
			return &FormatError{fmt.Sprintf("PCOUNT %d or GCOUNT %d out of range", pcount, gcount)}
		}
	}
	bytes, ok := product(int64(abs(u.bitpix)/8), elements+pcount)
	if ok {
		bytes, ok = product(bytes, gcount)
	}
	if !ok {
		return &FormatError{"the data unit is too large for any file"}
	}
	u.dataBytes = bytes
	return nil
}

// product multiplies sizes and refuses what exceeds maxBytes.
func product(a, b int64) (int64, bool) {
	if a < 0 || b < 0 {
		return 0, false
	}
	if a == 0 || b == 0 {
		return 0, true
	}
	if a > maxBytes/b {
		return 0, false
	}
	return a * b, true
}

func abs(n int) int {
	if n < 0 {
		return -n
	}
	return n
}

// byAxes are the lengths of axes, as people write them: 640 x 480 x 5.
func byAxes(axes []int64) string {
	var text []string
	for _, n := range axes {
		text = append(text, strconv.FormatInt(n, 10))
	}
	return strings.Join(text, " x ")
}

// errOneAxis is of a spectrum, or of another list of numbers.
var errOneAxis = &UnsupportedError{"an array of one axis, no image"}

// imageShape tells whether the axes are a picture this program measures: two
// axes, or a third of 1 or 3 planes (colour); further axes of length 1 are
// ignored.
func imageShape(axes []int64) (w, h, planes int, err error) {
	n := len(axes)
	for n > 2 && axes[n-1] == 1 {
		n--
	}
	if n < 2 {
		return 0, 0, 0, errOneAxis
	}
	planes = 1
	if n == 3 && axes[2] == 3 {
		planes, n = 3, 2
	}
	if n > 2 {
		return 0, 0, 0, &UnsupportedError{"an array of " + byAxes(axes) + ": neither one image nor three colour planes"}
	}
	if axes[0] < 1 || axes[1] < 1 {
		return 0, 0, 0, &UnsupportedError{fmt.Sprintf("an image without pixels (%d x %d)", axes[0], axes[1])}
	}
	if axes[0] > maxAxis || axes[1] > maxAxis {
		return 0, 0, 0, &FormatError{fmt.Sprintf("an image of %d x %d pixels", axes[0], axes[1])}
	}
	return int(axes[0]), int(axes[1]), planes, nil
}

// scaling is how stored samples become physical ones: BZERO + BSCALE x stored;
// a stored integer equal to blank is no sample at all.
type scaling struct {
	scale, zero float64
	blank       int64
	hasBlank    bool
}

// scaling reads BSCALE, BZERO and BLANK. Values that make no sense are left
// out with a warning.
func (h *header) scaling(bitpix int) (s scaling, warnings []fact.Fact) {
	s = scaling{scale: 1}
	read := func(key string, to *float64) {
		c, ok := h.structural(key)
		if !ok || c.value == "" {
			return
		}
		v, _, ok := parseNumber(c.value)
		if !ok || math.Abs(v) > 1e30 {
			warnings = append(warnings, fact.Of(ScalingUnusable, append(ofCard(key, c), fact.Number("taken", *to))...))
			return
		}
		*to = v
	}
	read("BSCALE", &s.scale)
	read("BZERO", &s.zero)
	if s.scale == 0 {
		s.scale = 1
		warnings = append(warnings, fact.Of(ScaleZero))
	}
	c, ok := h.structural("BLANK")
	if !ok || c.value == "" {
		return s, warnings
	}
	n, ok := wholeNumber(c.value)
	switch {
	case bitpix < 0:
		warnings = append(warnings, fact.Of(BlankOfFloats))
	case !ok:
		warnings = append(warnings, fact.Of(BlankUnusable, fact.Text("value", Printable(c.value))))
	default:
		s.blank, s.hasBlank = n, true
	}
	return s, warnings
}
