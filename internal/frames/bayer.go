package frames

import (
	"strings"
)

// bayerPatterns are the four ways a 2x2 colour mosaic can start.
var bayerPatterns = map[string]bool{"RGGB": true, "BGGR": true, "GRBG": true, "GBRG": true}

// bayerCodes are numeric colour types that stand for a pattern: 2 is RGGB by
// the numbering of a common camera driver standard (common practice, no source).
var bayerCodes = map[string]string{"2": "RGGB"}

// bayer reads the colour pattern and folds the offsets and the trim section
// into it, so that it is the pattern of the first pixel that Read delivers. A
// filter that is named like a pattern is the pattern and no filter.
func (l *lookup) bayer(m *Meta, trim Section, height int) {
	l.cards(synonyms.bayer, func(k keyword, c card) bool {
		p := strings.ToUpper(strings.TrimSpace(c.value))
		p = strings.NewReplacer("[", "", "]", "", ",", "", " ", "", "'", "").Replace(p)
		if k.name == "COLORTYP" {
			if code, ok := bayerCodes[p]; ok {
				p = code
			}
		}
		if !bayerPatterns[p] {
			return false
		}
		m.Bayer = p
		return true
	})
	if bayerPatterns[strings.ToUpper(string(m.Filter))] {
		m.Filter = ""
	}
	if m.Bayer == "" {
		return
	}
	dx := int(l.number(synonyms.bayerX, 0, within(-8, 8)))
	dy := int(l.number(synonyms.bayerY, 0, within(-8, 8)))
	// A pattern given for the top row of a file whose rows run bottom-up
	// starts, at the first stored row, one row later when the height is even.
	if l.text(synonyms.rowOrder) == "BOTTOM-UP" && height%2 == 0 {
		dy++
	}
	m.Bayer = shiftBayer(m.Bayer, dx+trim.X0, dy+trim.Y0)
}

// shiftBayer is the pattern seen from a first pixel dx, dy further on.
func shiftBayer(p string, dx, dy int) string {
	at := func(x, y int) byte { return p[((y+dy)&1)*2+(x+dx)&1] }
	return string([]byte{at(0, 0), at(1, 0), at(0, 1), at(1, 1)})
}

func greenFirst(p string) bool { return p[0] == 'G' }
