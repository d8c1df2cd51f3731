package frames

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames/tiled"
)

// maxUnits bounds the search for an image in a file of many extensions.
const maxUnits = 500

// unit is the image of a file: where it lies, how its samples are coded and
// what its header says.
type unit struct {
	width, height, planes int // as stored, untrimmed
	bitpix                int
	scaling
	offset    int64 // of the data unit, in unpacked bytes
	dataBytes int64 // of the data unit as stored there, without padding
	trim      Section
	header    *header      // the image's own cards, then those of the primary header
	tiles     *tiled.Table // nil unless tile-compressed
	sums      checksums    // of this unit
	whole     bool         // samples are whole numbers once they are scaled; see undivide
}

func (u *unit) bytesPerSample() int { return abs(u.bitpix) / 8 }

// imageBytes is the size of the samples once any tiles are unpacked.
func (u *unit) imageBytes() int64 {
	return int64(u.width) * int64(u.height) * int64(u.planes) * int64(u.bytesPerSample())
}

// locate finds the first image of two axes: in the primary unit, in an image
// extension, or tile-compressed in a binary table.
func locate(s *source, maxBytes int64) (*unit, []fact.Fact, error) {
	var primary *header
	var passed error // why the units so far are no image
	for i := range maxUnits {
		h, u, err := nextUnit(s, i == 0)
		if err != nil {
			return nil, nil, err
		}
		if h == nil {
			break
		}
		if i == 0 {
			primary = h
		}
		found, warnings, err := h.image(u)
		switch {
		case err != nil && passed == nil:
			passed = err
		case found != nil:
			found.offset, found.sums = s.pos, h.checksums()
			warnings = append(warnings, found.sums.note()...)
			warnings = append(warnings, h.givenTwice()...)
			if i > 0 {
				for _, c := range primary.cards {
					h.add(c)
				}
				h.history = append(h.history, primary.history...)
			}
			return found, warnings, nil
		}
		if s.gz != nil && s.pos+u.dataBytes > maxBytes { // what is skipped must be unpacked too
			return nil, nil, &UnsupportedError{"an image behind more data than the memory cap allows"}
		}
		if err := skipUnit(s, u.dataBytes); err != nil {
			return nil, nil, err
		}
	}
	if passed == nil && s.alone(primary) {
		passed = &TruncatedError{Have: s.pos}
	}
	if passed == nil {
		passed = &UnsupportedError{"no image in the file, only tables or headers"}
	}
	return nil, nil, passed
}

// nextUnit reads the header of the next unit; nil where there is none any more, at the end
// or before trailing garbage.
func nextUnit(s *source, first bool) (*header, hdu, error) {
	h, err := readHeader(s)
	switch {
	case err == nil:
		u, err := h.structure(first)
		return h, u, err
	case !first && h == nil && (errors.Is(err, io.EOF) || is[*FormatError](err)):
		return nil, hdu{}, nil
	case errors.Is(err, io.EOF):
		err = &FormatError{"gzip of nothing"}
	case !first && errors.Is(err, errHeaderCut): // what came before it shows that this was a FITS file
		err = &TruncatedError{Have: s.pos}
	}
	return nil, hdu{}, err
}

// alone tells whether a compressed image, by its name, ends behind the primary
// header that goes before its table.
func (s *source) alone(primary *header) bool {
	name := strings.ToLower(strings.TrimSuffix(s.file.Name(), ".gz"))
	return strings.HasSuffix(name, ".fz") && primary != nil && s.pos == primary.sum.n
}

func skipUnit(s *source, dataBytes int64) error {
	want := s.pos + dataBytes
	if s.gz == nil && want > s.size {
		return &TruncatedError{Have: s.size, Want: padded(want)}
	}
	before := s.pos
	err := s.skip(padded(dataBytes))
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		if s.pos-before >= dataBytes {
			return nil
		}
		return &TruncatedError{Have: s.pos, Want: padded(want)}
	}
	return err
}

// image turns a unit into the image it holds. A unit without data gives
// neither image nor error.
func (h *header) image(u hdu) (*unit, []fact.Fact, error) {
	switch {
	case u.groups:
		return nil, nil, &UnsupportedError{"random groups"}
	case u.name == "BINTABLE" || u.name == "A3DTABLE":
		if zimage, _ := h.truth("ZIMAGE"); zimage {
			return h.tiledImage(u)
		}
		return nil, nil, nil
	case u.name != "" && u.name != "IMAGE" && u.name != "IUEIMAGE":
		return nil, nil, nil
	case len(u.axes) == 0 || u.dataBytes == 0:
		return nil, nil, nil
	}
	w, ht, planes, err := imageShape(u.axes)
	if err != nil {
		return nil, nil, err
	}
	found := &unit{width: w, height: ht, planes: planes, bitpix: u.bitpix, dataBytes: u.dataBytes, header: h}
	var warnings []fact.Fact
	found.scaling, warnings = h.scaling(u.bitpix)
	if found.imageBytes() > u.dataBytes {
		return nil, nil, &FormatError{fmt.Sprintf("the data unit of %d bytes is smaller than its image", u.dataBytes)}
	}
	return found, warnings, nil
}

// givenTwice warns of cards that tell the picture's shape or coding more than once,
// differently: the first counts, and the pixels may be others than meant.
func (h *header) givenTwice() (warnings []fact.Fact) {
	for _, key := range []string{"BITPIX", "NAXIS", "NAXIS1", "NAXIS2", "NAXIS3", "BZERO", "BSCALE", "BLANK"} {
		first, ok := h.structural(key)
		if !ok {
			continue
		}
		for _, c := range h.all(key) {
			a, _, ok1 := parseNumber(first.value)
			b, _, ok2 := parseNumber(c.value)
			if !c.long && (ok1 != ok2 || a != b) {
				warnings = append(warnings, fact.Of(ShapeTwice, append(ofCard(key, first), fact.Text("other", Printable(c.value)))...))
				break
			}
		}
	}
	return warnings
}
