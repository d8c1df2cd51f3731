package night

import (
	"bytes"
	"encoding/binary"
	"encoding/gob"
	"errors"
	"slices"

	"fitsqa/internal/frames"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/figures"
	"fitsqa/internal/stars/tie"
)

// What is remembered has its long lists packed as bytes, in columns of one
// size: encoding them number by number takes longer than a whole second run
// should, and building a master no longer than reading one so encoded.

// measurement is what is measured of a sub.
type measurement struct {
	Field   *stars.Field
	Preview *frames.Preview
}

// packedMeasurement is a measurement without its stars and pixels, and these.
type packedMeasurement struct {
	Field   stars.Field
	Preview frames.Preview
	Stars   []byte
	Pixels  []byte
	Crops   [][]byte
}

func packMeasurement(m measurement) packedMeasurement {
	p := packedMeasurement{Field: *m.Field, Preview: *m.Preview, Stars: pack(m.Field.Stars), Pixels: pack(m.Preview.Pixels)}
	p.Field.Stars, p.Preview.Pixels = nil, nil
	p.Preview.Crops = slices.Clone(m.Preview.Crops)
	for i, c := range m.Preview.Crops {
		p.Crops = append(p.Crops, pack(c.Pixels))
		p.Preview.Crops[i].Pixels = nil
	}
	return p
}

// MarshalBinary implements encoding.BinaryMarshaler: gob of what is small, and
// the lists as they are.
func (p packedMeasurement) MarshalBinary() ([]byte, error) {
	var head bytes.Buffer
	enc := gob.NewEncoder(&head)
	if err := errors.Join(enc.Encode(p.Field), enc.Encode(p.Preview)); err != nil {
		return nil, err
	}
	return join(append([][]byte{head.Bytes(), p.Stars, p.Pixels}, p.Crops...)...), nil
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
	p.Stars, p.Pixels, p.Crops = parts[1], parts[2], parts[3:]
	return dec.Decode(&p.Preview)
}

// unpack is false when the parts do not fit together. What it gives is apart from
// p and from each other, so that a field that stays holds no picture.
func (p *packedMeasurement) unpack() (*stars.Field, *frames.Preview, bool) {
	field, preview := new(stars.Field), new(frames.Preview)
	*field, *preview = p.Field, p.Preview
	if len(p.Crops) != len(preview.Crops) || !unpack(p.Stars, &field.Stars) || !unpack(p.Pixels, &preview.Pixels) {
		return nil, nil, false
	}
	for i := range p.Crops {
		if !unpack(p.Crops[i], &preview.Crops[i].Pixels) {
			return nil, nil, false
		}
	}
	return field, preview, true
}

// packedTies are the alignments without their pairs of stars, these, what was
// taken off the stars before, and the light of some subs.
type packedTies struct {
	Align        []tie.Alignment
	Pairs        [][]byte
	Fixed        [][]int32
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
		var fixed []int32
		for _, k := range s.fixed {
			fixed = append(fixed, int32(k))
		}
		p.Fixed = append(p.Fixed, fixed)
		p.Transparency = append(p.Transparency, s.Transparency)
	}
	return p
}

// unpack hands each sub what is its own; false when it does not fit.
func (p *packedTies) unpack(same []*Sub) bool {
	n := len(same)
	if len(p.Align) != n || len(p.Pairs) != n || len(p.Fixed) != n || len(p.Transparency) != n {
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
		for _, k := range p.Fixed[i] {
			s.fixed = append(s.fixed, int(k))
		}
		figures.Without(s.Field, s.fixed)
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
