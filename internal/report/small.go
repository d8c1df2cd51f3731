package report

import (
	"runtime"

	"fitsqa/internal/cache"
	"fitsqa/internal/night"
	"fitsqa/internal/parallel"
)

// small is what the page shows of every sub: its preview and the strip of its stars,
// remembered with what the stretches are made from, so that a second run of a night
// neither reads nor draws them again.
type small struct {
	Tones          tones
	By             cache.Key // of the stretches that the pictures are drawn by; zero: none are
	Preview, Strip []byte
}

// smallKey stands for a sub's pictures before they are stretched; false where nothing
// is remembered.
func smallKey(r *night.Result, s *night.Sub) (cache.Key, bool) {
	measured, ok := s.Key()
	if r.Settings.Cache == nil || !ok {
		return cache.Key{}, false
	}
	return cache.NewKey("small pictures").Add(measured).Key(), true
}

func recallSmall(r *night.Result) []small {
	all := make([]small, len(r.Subs))
	eachPicture(r, func(i int, s *night.Sub) {
		if key, ok := smallKey(r, s); !ok || !r.Settings.Cache.Get(key, &all[i]) {
			all[i] = small{Tones: tonesOf(s, s.Preview())}
		}
	})
	return all
}

// drawSmall draws what is not remembered as the stretches have it now.
func drawSmall(r *night.Result, all []small, previews, strips map[int]stretch) gallery {
	n := len(r.Subs)
	g := gallery{previews: make([][]byte, n), strips: make([][]byte, n), large: make([][]byte, n)}
	eachPicture(r, func(i int, s *night.Sub) {
		preview, strip := previews[s.Stack], strips[s.Stack]
		if by := cache.NewKey("stretches").Add(preview.curve(), strip.curve()).Key(); all[i].By != by {
			p := s.Preview()
			all[i].By, all[i].Preview, all[i].Strip = by, previewJPEG(p, preview, pictureWidth), nil
			if strip.soft > 0 {
				all[i].Strip = stripJPEG(s.Strip(p), strip)
			}
			if key, ok := smallKey(r, s); ok {
				_ = r.Settings.Cache.Put(key, all[i]) // a full disk costs the next run time, and this one nothing
			}
		}
		g.previews[i], g.strips[i] = all[i].Preview, all[i].Strip
	})
	return g
}

// eachPicture works on all subs that have a picture, several at once.
func eachPicture(r *night.Result, work func(i int, s *night.Sub)) {
	parallel.Items(len(r.Subs), runtime.GOMAXPROCS(0), func(i int) {
		if s := r.Subs[i]; s.HasPicture() {
			work(i, s)
		}
	})
}
