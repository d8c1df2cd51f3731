package night

import (
	"bytes"
	"encoding/binary"
	"encoding/gob"
	"errors"
	"slices"
	"unsafe"

	"fitsqa/internal/frames"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/figures"
	"fitsqa/internal/stars/photometry"
	"fitsqa/internal/stars/registration"
)

// What is remembered has its long lists as bytes: encoding them number by number
// takes longer than a whole second run should, and building a master no longer than
// reading one so encoded.

// packedMeasurement is what is measured of a sub: its field without its stars, points and
// broad images, these, and its small picture.
type packedMeasurement struct {
	Field                stars.Field
	Stars, Points, Broad []byte
	Picture              packedPicture
}

func packMeasurement(field *stars.Field, picture packedPicture) packedMeasurement {
	p := packedMeasurement{*field, pack(field.Stars), pack(field.Points), pack(field.Broad), picture}
	p.Field.Stars, p.Field.Points, p.Field.Broad = nil, nil, nil
	return p
}

// MarshalBinary implements encoding.BinaryMarshaler: gob of what is small, and
// the lists as they are.
func (p packedMeasurement) MarshalBinary() ([]byte, error) {
	var head bytes.Buffer
	enc := gob.NewEncoder(&head)
	if err := errors.Join(enc.Encode(p.Field), enc.Encode(p.Picture.Shape)); err != nil {
		return nil, err
	}
	return join(append([][]byte{head.Bytes(), p.Stars, p.Points, p.Broad}, p.Picture.lists...)...), nil
}

// UnmarshalBinary implements encoding.BinaryUnmarshaler; the lists are parts of b.
func (p *packedMeasurement) UnmarshalBinary(b []byte) error {
	parts, ok := split(b)
	if !ok || len(parts) < 5 {
		return errTorn
	}
	dec := gob.NewDecoder(bytes.NewReader(parts[0]))
	if err := dec.Decode(&p.Field); err != nil {
		return err
	}
	p.Stars, p.Points, p.Broad, p.Picture.lists = parts[1], parts[2], parts[3], parts[4:]
	return dec.Decode(&p.Picture.Shape)
}

// field is false when the parts do not fit together. It holds no part of p.
func (p *packedMeasurement) field() (*stars.Field, bool) {
	field := p.Field
	ok := unpack(p.Stars, &field.Stars) && unpack(p.Points, &field.Points) && unpack(p.Broad, &field.Broad) && p.Picture.sound()
	return &field, ok
}

// packedPicture is a preview without its pixels, and these.
type packedPicture struct {
	Shape frames.Preview
	lists [][]byte // its pixels, then those of each crop
}

func packPicture(of *frames.Preview) packedPicture {
	p := packedPicture{Shape: *of, lists: [][]byte{pack(of.Pixels)}}
	p.Shape.Pixels, p.Shape.Crops = nil, slices.Clone(of.Crops)
	for i, c := range of.Crops {
		p.lists = append(p.lists, pack(c.Pixels))
		p.Shape.Crops[i].Pixels = nil
	}
	return p
}

// sound tells whether the parts fit together.
func (p *packedPicture) sound() bool {
	torn := func(b []byte) bool { return len(b)%4 != 0 }
	return len(p.lists) == 1+len(p.Shape.Crops) && !slices.ContainsFunc(p.lists, torn)
}

// preview holds no part of p; it is false when the parts do not fit together.
func (p *packedPicture) preview() (*frames.Preview, bool) {
	if !p.sound() {
		return nil, false
	}
	whole := p.Shape
	whole.Crops = slices.Clone(p.Shape.Crops)
	unpack(p.lists[0], &whole.Pixels) // sound, all of them
	for i := range whole.Crops {
		unpack(p.lists[1+i], &whole.Crops[i].Pixels)
	}
	return &whole, true
}

// packedTies are the alignments without their pairs of stars, these, what was
// taken off the stars before and added to them, and the light of some subs.
type packedTies struct {
	Align        []registration.Alignment
	Pairs        [][]byte
	Fixed        [][]int
	Moving       [][]int
	Transparency []photometry.Transparency
}

func packTies(same []*Sub) packedTies {
	var p packedTies
	for _, s := range same {
		p.Align = append(p.Align, s.Align)
		p.Align[len(p.Align)-1].Pairs = nil
		p.Pairs = append(p.Pairs, pack(s.Align.Pairs))
		p.Fixed, p.Moving = append(p.Fixed, s.fixed), append(p.Moving, s.moving)
		p.Transparency = append(p.Transparency, s.Transparency)
	}
	return p
}

// unpack hands each sub what is its own; false when it does not fit.
func (p *packedTies) unpack(same []*Sub) bool {
	n := len(same)
	if len(p.Align) != n || len(p.Pairs) != n || len(p.Fixed) != n || len(p.Moving) != n || len(p.Transparency) != n {
		return false
	}
	for i, s := range same {
		s.Align, s.Transparency = p.Align[i], p.Transparency[i]
		if !unpack(p.Pairs[i], &s.Align.Pairs) {
			return false
		}
	}
	for i, s := range same {
		s.fixed, s.moving = p.Fixed[i], p.Moving[i]
		figures.Without(s.Field, s.fixed)
		figures.With(s.Field, s.moving)
	}
	return true
}

// packedPixels is a master as bytes.
type packedPixels struct{ pixels []byte }

// MarshalBinary implements encoding.BinaryMarshaler.
func (p packedPixels) MarshalBinary() ([]byte, error) { return p.pixels, nil }

// UnmarshalBinary implements encoding.BinaryUnmarshaler; it keeps b.
func (p *packedPixels) UnmarshalBinary(b []byte) error {
	p.pixels = b
	return nil
}

var errTorn = errors.New("the parts of an entry do not fit together")

// join is some parts one after the other, the length of each before it.
func join(parts ...[]byte) []byte {
	n := 0
	for _, p := range parts {
		n += binary.MaxVarintLen64 + len(p)
	}
	b := make([]byte, 0, n)
	for _, p := range parts {
		b = append(binary.AppendUvarint(b, uint64(len(p))), p...)
	}
	return b
}

// split is the inverse of join; false when the last part is cut.
func split(b []byte) (parts [][]byte, ok bool) {
	for len(b) > 0 {
		n, used := binary.Uvarint(b)
		if used <= 0 || n > uint64(len(b)-used) {
			return nil, false
		}
		end := used + int(n)
		parts = append(parts, b[used:end:end])
		b = b[end:]
	}
	return parts, true
}

// pack is the values as they lie in memory: keys stand for this very program, and so
// for its way to lay them out. T holds no pointers.
func pack[T any](x []T) []byte { return slices.Clone(bytesOf(x)) }

// unpack is the inverse of pack; false when b ends within a value. Nothing
// comes back as nil, as it went in.
func unpack[T any](b []byte, x *[]T) bool {
	size := int(unsafe.Sizeof(*new(T)))
	if len(b)%size != 0 {
		return false
	}
	if len(b) > 0 {
		*x = make([]T, len(b)/size)
		copy(bytesOf(*x), b)
	}
	return true
}

// bytesOf is the memory of some values.
func bytesOf[T any](x []T) []byte {
	return unsafe.Slice((*byte)(unsafe.Pointer(unsafe.SliceData(x))), len(x)*int(unsafe.Sizeof(*new(T))))
}
