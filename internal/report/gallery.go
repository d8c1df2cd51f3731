package report

import (
	"bytes"
	"errors"
	"image/jpeg"
	"runtime"
	"slices"

	"golang.org/x/sync/errgroup"

	"fitsqa/internal/cache"
	"fitsqa/internal/night"
	"fitsqa/internal/subs"
)

// pictureBudget is how many bytes of JPEG the page may hold. As base64 they
// grow by a third, so that the page stays under 25 MB.
const pictureBudget = 16 << 20

// largeWidth is how wide the pictures of subs that call for a look are at most, px.
const largeWidth = 960

// gallery is the pictures of all subs, by their order in the Result; nil
// where there is none.
type gallery struct {
	previews [][]byte
	strips   [][]byte // their brightest stars
	large    [][]byte // of subs that are not kept, and of the best of each group
	shelf    *shelf   // where they are kept; nil: in the page
}

// newGallery draws every sub's preview and its strip of stars and, as far as
// the budget reaches, large pictures of the subs that call for a look. What is too
// much for the page goes onto the shelf; without one the last pictures are left out.
func newGallery(r *night.Result, beside *shelf) gallery {
	all := recallSmall(r)
	previews, strips := groupStretches(r, all)
	g := drawSmall(r, all, previews, strips)
	room := pictureBudget
	switch {
	case beside == nil:
		room = g.keepWithin(room)
	case g.bytes() > beside.room:
		g.shelf = beside
	default:
		room = beside.room - g.bytes()
	}
	g.enlarge(r, previews, room)
	return g
}

// source is where the page finds a picture, "" for none.
func (g *gallery) source(jpg []byte) (string, error) {
	if g.shelf == nil {
		return dataURI(jpg), nil
	}
	return g.shelf.put(jpg)
}

func (g *gallery) show(i int, row *subRowView, d *subData) error {
	preview, err := g.source(g.previews[i])
	if size, none := jpeg.DecodeConfig(bytes.NewReader(g.previews[i])); none == nil {
		row.Picture, row.PictureWidth, row.PictureHeight = imageSource(preview), size.Width, size.Height
	}
	strip, errStrip := g.source(g.strips[i])
	large, errLarge := g.source(g.large[i])
	d.Strip, d.Large = strip, large
	return errors.Join(err, errStrip, errLarge)
}

func (g *gallery) bytes() (n int) {
	for i := range g.previews {
		n += len(g.previews[i]) + len(g.strips[i])
	}
	return n
}

// keepWithin drops the last strips, then the last previews, until the pictures
// fit, and tells how many bytes are left.
func (g *gallery) keepWithin(budget int) (left int) {
	budget -= g.bytes()
	for _, pictures := range [][][]byte{g.strips, g.previews} {
		for i := len(pictures) - 1; i >= 0 && budget < 0; i-- {
			budget += len(pictures[i])
			pictures[i] = nil
		}
	}
	return budget
}

// enlarge draws the large pictures, those that matter most first, until budget
// bytes are used. Each is read from its file once more.
func (g *gallery) enlarge(r *night.Result, stretches map[int]stretch, budget int) {
	order := lookOrder(r)
	workers := runtime.GOMAXPROCS(0)
	for len(order) > 0 && budget > 0 {
		batch := order[:min(workers, len(order))]
		order = order[len(batch):]
		var work errgroup.Group
		for _, i := range batch {
			work.Go(func() error {
				g.large[i] = largeJPEG(r, r.Subs[i], stretches[r.Subs[i].Stack])
				return nil
			})
		}
		work.Wait() // a sub that cannot be read again keeps its small picture
		for _, i := range batch {
			if budget -= len(g.large[i]); budget < 0 {
				g.large[i] = nil
			}
		}
	}
}

// largeJPEG is a sub's large picture, or nil; drawn ones are remembered with
// the measurements.
func largeJPEG(r *night.Result, s *night.Sub, look stretch) []byte {
	store := r.Settings.Cache
	var key cache.Key
	if store != nil {
		k := cache.NewKey("large picture").Add(largeWidth, pictureQuality, look.curve()).AddPixels(s.Preview().Pixels)
		if k.AddFile(s.Frame.Path) != nil {
			return nil
		}
		key = k.Key()
		var known []byte
		if store.Get(key, &known) {
			return known
		}
	}
	large, err := s.Enlarged(largeWidth)
	if err != nil {
		return nil
	}
	jpg := previewJPEG(large, look, largeWidth)
	if store != nil {
		_ = store.Put(key, jpg) // a full disk costs the next run time, and this one nothing
	}
	return jpg
}

// lookOrder is the subs that call for a look: the best of each group, which the
// others are compared with, then those whose shape is in question, then the
// other doubtful ones, then the other culled ones.
func lookOrder(r *night.Result) []int {
	rank := make([]int, len(r.Subs))
	best := map[int]int{}
	for i, s := range r.Subs {
		switch {
		case !s.HasPicture() || s.Frame == nil || s.Frame.Path == "":
			continue
		case slices.Contains(s.Causes, subs.Trailed) || slices.Contains(s.Causes, subs.Soft):
			rank[i] = 3
		case s.Verdict == subs.Doubtful:
			rank[i] = 2
		case s.Verdict == subs.Cull:
			rank[i] = 1
		}
		if b, ok := best[s.Stack]; s.Weight.OK() && (!ok || s.Weight.V > r.Subs[b].Weight.V) {
			best[s.Stack] = i
		}
	}
	for _, i := range best {
		rank[i] = 4
	}
	var order []int
	for i := range rank {
		if rank[i] > 0 {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return rank[b] - rank[a] })
	return order
}
