package calib

import (
	"errors"
	"io"
	"math"
	"os"
	"strconv"
	"strings"
	"unicode"

	"github.com/astrogo/fitsio"

	"fitsqa/internal/frames"
)

// writeNew writes a file that was not there, whole or not at all.
func writeNew(path string, write func(io.Writer) error) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return err
	}
	if err = errors.Join(write(f), f.Sync(), f.Close()); err != nil {
		_ = os.Remove(path) // half of one is worth nothing
	}
	return err
}

func writeImage(w io.Writer, bits int, g *frames.Group, pixels any, cards []fitsio.Card) error {
	f, err := fitsio.Create(w)
	if err != nil {
		return err
	}
	img := fitsio.NewImage(bits, []int{g.Width, g.Height})
	err = errors.Join(img.Header().Append(cards...), img.Write(pixels))
	if err == nil {
		err = f.Write(img)
	}
	return errors.Join(err, img.Close(), f.Close())
}

// header gathers cards; what is not known gets none.
type header struct{ cards []fitsio.Card }

func (h *header) text(name, value, comment string) {
	if value = ascii(value); value != "" {
		h.cards = append(h.cards, fitsio.Card{Name: name, Value: value, Comment: comment})
	}
}

func (h *header) number(name string, v float64, comment string) {
	switch {
	case math.IsNaN(v) || math.IsInf(v, 0):
	case v == math.Trunc(v) && math.Abs(v) < 1e6:
		h.cards = append(h.cards, fitsio.Card{Name: name, Value: int(v), Comment: comment})
	default:
		h.cards = append(h.cards, fitsio.Card{Name: name, Value: v, Comment: comment})
	}
}

func (h *header) history(text string) {
	h.cards = append(h.cards, fitsio.Card{Name: "HISTORY", Comment: ascii(text)})
}

// ascii is a text as a header may hold it (FITS standard 4.0, section 4.2.1): what
// is more is escaped.
func ascii(text string) string {
	return strings.Trim(strconv.QuoteToASCII(frames.Printable(text)), `"`)
}

// FileStem is a label as a file name that every system takes: letters, digits,
// points, signs and underscores, at most 80 bytes. Labels hold header text, which
// must never lead out of a folder.
func FileStem(label string) string {
	name := strings.Map(func(c rune) rune {
		if c < 128 && (unicode.IsLetter(c) || unicode.IsDigit(c) || strings.ContainsRune(".-+", c)) {
			return c
		}
		return '_'
	}, strings.ReplaceAll(label, "°", ""))
	name = strings.TrimLeft(name[:min(len(name), 80)], ".")
	if name == "" {
		return "set"
	}
	return name
}
