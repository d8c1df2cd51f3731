package night

import (
	"math"

	"fitsqa/internal/frames"
	"fitsqa/internal/scratch"
)

// album keeps the pictures of subs in a file without a name, which the system
// lets go of when the night is no longer used: in memory, those of thousands of
// subs would be most of what a night takes. A nil album keeps nothing.
type album struct{ file *scratch.File }

// newAlbum is nil where a file cannot be used without its name.
func newAlbum() *album {
	f := scratch.New()
	if f == nil {
		return nil
	}
	return &album{f}
}

// picture is a preview, in memory or in an album.
type picture struct {
	held  *frames.Preview // nil when it is in the album
	album *album
	at    int64
	bytes int
	shape frames.Preview // without pixels
}

// keep takes a picture in; a full disk costs memory and nothing else.
func (a *album) keep(p packedPicture) *picture {
	if a != nil {
		raw := join(p.lists...)
		at := a.file.Reserve(len(raw))
		if _, err := a.file.WriteAt(raw, at); err == nil {
			return &picture{album: a, at: at, bytes: len(raw), shape: p.Shape}
		}
	}
	whole, _ := p.preview()
	return &picture{held: whole}
}

// shapeOf is width, height and step without reading anything.
func (p *picture) shapeOf() *frames.Preview {
	if p.held != nil {
		return p.held
	}
	return &p.shape
}

// preview is the picture as it was kept. One that cannot be read back is blank.
func (p *picture) preview() *frames.Preview {
	if p.held != nil {
		return p.held
	}
	packed := p.packed()
	if whole, sound := packed.preview(); sound {
		return whole
	}
	blank := p.shape
	blank.Crops = nil
	blank.Pixels = make([]float32, blank.Width*blank.Height)
	for i := range blank.Pixels {
		blank.Pixels[i] = float32(math.NaN())
	}
	return &blank
}

// packed is the picture as it goes into the cache, not sound when it cannot be read
// back.
func (p *picture) packed() packedPicture {
	if p.held != nil {
		return packPicture(p.held)
	}
	raw := make([]byte, p.bytes)
	if _, err := p.album.file.ReadAt(raw, p.at); err != nil {
		return packedPicture{}
	}
	lists, _ := split(raw)
	return packedPicture{p.shape, lists}
}

// HasPicture tells whether there is a small picture of the sub: not when it is
// unreadable.
func (s *Sub) HasPicture() bool { return s.picture != nil }

// Preview is the sub's small picture, fetched anew by every call; nil when there
// is none. It must not be changed.
func (s *Sub) Preview() *frames.Preview {
	if s.picture == nil {
		return nil
	}
	return s.picture.preview()
}

// SetPreview gives the sub a picture, or none with nil.
func (s *Sub) SetPreview(p *frames.Preview) {
	s.picture = nil
	if p != nil {
		s.picture = s.album.keep(packPicture(p))
	}
}
