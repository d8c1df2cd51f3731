package night

import (
	"bytes"
	"encoding/binary"
	"encoding/gob"
	"errors"
	"math"
	"slices"

	"fitsqa/internal/frames"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/figures"
	"fitsqa/internal/stars/tie"
)

// What is remembered has its long lists packed as bytes, in columns of one
// size: encoding them number by number takes longer than a whole second run
// should, and building a master no longer than reading one so encoded.

// packedMeasurement is what is measured of a sub: its field without the stars, these,
// and its small picture.
type packedMeasurement struct {
	Field   stars.Field
	Stars   []byte
	Picture packedPicture
}

func packMeasurement(field *stars.Field, picture packedPicture) packedMeasurement {
	p := packedMeasurement{*field, pack(field.Stars), picture}
	p.Field.Stars = nil
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
	return join(append([][]byte{head.Bytes(), p.Stars}, p.Picture.lists...)...), nil
}

// UnmarshalBinary implements encoding.BinaryUnmarshaler; the lists are parts of b.
func (p *packedMeasurement) UnmarshalBinary(b []byte) error {
	parts, ok := split(b)
	if !ok || len(parts) < 3 {
		return errTorn
	}
	dec := gob.NewDecoder(bytes.NewReader(parts[0]))
	if err := dec.Decode(&p.Field); err != nil {
		return err
	}
	p.Stars, p.Picture.lists = parts[1], parts[2:]
	return dec.Decode(&p.Picture.Shape)
}

// field is false when the parts do not fit together. It holds no part of p.
func (p *packedMeasurement) field() (*stars.Field, bool) {
	field := p.Field
	ok := unpack(p.Stars, &field.Stars) && p.Picture.sound()
	return &field, ok
}

// packedPicture is a preview without its pixels, and these.
type packedPicture struct {
	Shape frames.Preview
	lists [][]byte // its pixels, then those of each crop
}

func packPicture(of *frames.Preview) packedPicture {
	p := packedPicture{Shape: *of, lists: [][]byte{packFloats(of.Pixels)}}
	p.Shape.Pixels, p.Shape.Crops = nil, slices.Clone(of.Crops)
	for i, c := range of.Crops {
		p.lists = append(p.lists, packFloats(c.Pixels))
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
	whole.Pixels, whole.Crops = floats(p.lists[0]), slices.Clone(p.Shape.Crops)
	for i := range whole.Crops {
		whole.Crops[i].Pixels = floats(p.lists[1+i])
	}
	return &whole, true
}

// packedTies are the alignments without their pairs of stars, these, what was
// taken off the stars before and added to them, and the light of some subs.
type packedTies struct {
	Align        []tie.Alignment
	Pairs        [][]byte
	Fixed        [][]int32
	Moving       [][]int32
	Transparency []tie.Transparency
}

func packTies(same []*Sub) packedTies {
	var p packedTies
	for _, s := range same {
		pairs := make([][2]int32, len(s.Align.Pairs))
		for i, pair := range s.Align.Pairs {
			pairs[i] = [2]int32{int32(pair[0]), int32(pair[1])}
		}
		p.Align = append(p.Align, s.Align)
		p.Align[len(p.Align)-1].Pairs = nil
		p.Pairs = append(p.Pairs, pack(pairs))
		p.Fixed = append(p.Fixed, narrow(s.fixed))
		p.Moving = append(p.Moving, narrow(s.moving))
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
		var pairs [][2]int32
		if !unpack(p.Pairs[i], &pairs) {
			return false
		}
		s.Align, s.Transparency = p.Align[i], p.Transparency[i]
		for _, pair := range pairs {
			s.Align.Pairs = append(s.Align.Pairs, [2]int{int(pair[0]), int(pair[1])})
		}
	}
	for i, s := range same {
		s.fixed, s.moving = widen(p.Fixed[i]), widen(p.Moving[i])
		figures.Without(s.Field, s.fixed)
		figures.With(s.Field, s.moving)
	}
	return true
}

// narrow and widen bring numbers into the form that is stored, and back.
func narrow(numbers []int) (out []int32) {
	for _, k := range numbers {
		out = append(out, int32(k))
	}
	return out
}

func widen(numbers []int32) (out []int) {
	for _, k := range numbers {
		out = append(out, int(k))
	}
	return out
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

// pack is the values one after the other, each in the same number of bytes.
func pack[T any](x []T) []byte {
	b, err := binary.Append(nil, binary.LittleEndian, x)
	if err != nil {
		panic(err) // T has no fixed size
	}
	return b
}

// unpack is the inverse of pack; false when b ends within a value. Nothing
// comes back as nil, as it went in.
func unpack[T any](b []byte, x *[]T) bool {
	var one T
	size := binary.Size(one)
	if len(b)%size != 0 {
		return false
	}
	if len(b) == 0 {
		return true
	}
	*x = make([]T, len(b)/size)
	_, err := binary.Decode(b, binary.LittleEndian, *x)
	return err == nil
}

// packFloats is pack for what there is most of: encoding/binary takes several times as
// long.
func packFloats(x []float32) []byte {
	b := make([]byte, 4*len(x))
	for i, v := range x {
		binary.LittleEndian.PutUint32(b[4*i:], math.Float32bits(v))
	}
	return b
}

// floats is the inverse of packFloats, of a length that four divides.
func floats(b []byte) []float32 {
	if len(b) == 0 {
		return nil
	}
	x := make([]float32, len(b)/4)
	for i := range x {
		x[i] = math.Float32frombits(binary.LittleEndian.Uint32(b[4*i:]))
	}
	return x
}
