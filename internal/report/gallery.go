package report

import (
	"runtime"
	"slices"

	"golang.org/x/sync/errgroup"

	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/subs"
)

// pictureBudget is how many bytes of JPEG the page may hold. As base64 they
// grow by a third, so that the page stays under 25 MB.
const pictureBudget = 16 << 20

// gallery is the pictures of all subs, by their order in the Result; nil
// where there is none.
type gallery struct {
	previews [][]byte
	crops    [][]byte
}

// newGallery draws every sub's preview and, as far as the budget reaches, the
// crops of the subs whose stars call for a look.
func newGallery(r *night.Result) gallery {
	n := len(r.Subs)
	g := gallery{previews: make([][]byte, n), crops: make([][]byte, n)}
	stretches := groupStretches(r)
	wanted := cropOrder(r)
	var work errgroup.Group
	work.SetLimit(runtime.GOMAXPROCS(0))
	for i, s := range r.Subs {
		if s.Preview == nil {
			continue
		}
		work.Go(func() error {
			g.previews[i] = previewJPEG(s.Preview, stretches[s.Stack])
			if wanted[i] > 0 {
				g.crops[i] = cropsJPEG(s.Preview)
			}
			return nil
		})
	}
	work.Wait() // drawing cannot fail
	g.keepWithin(pictureBudget, wanted)
	return g
}

// keepWithin drops the crops that matter least, then the last previews, until
// the pictures fit.
func (g *gallery) keepWithin(budget int, wanted []int) {
	for _, p := range g.previews {
		budget -= len(p)
	}
	order := make([]int, len(g.crops))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return wanted[b] - wanted[a] })
	for _, i := range order {
		if budget -= len(g.crops[i]); budget < 0 {
			budget += len(g.crops[i])
			g.crops[i] = nil
		}
	}
	for i := len(g.previews) - 1; i >= 0 && budget < 0; i-- {
		budget += len(g.previews[i])
		g.previews[i] = nil
	}
}

// groupStretches is one stretch a group, from its good subs, or from all where
// none is good.
func groupStretches(r *night.Result) map[int]stretch {
	good, all := map[int][]*frames.Preview{}, map[int][]*frames.Preview{}
	for _, s := range r.Subs {
		if s.Preview == nil {
			continue
		}
		all[s.Stack] = append(all[s.Stack], s.Preview)
		if s.Verdict == subs.Keep {
			good[s.Stack] = append(good[s.Stack], s.Preview)
		}
	}
	stretches := map[int]stretch{}
	for stack, previews := range all {
		if len(good[stack]) > 0 {
			previews = good[stack]
		}
		stretches[stack] = newStretch(previews)
	}
	return stretches
}

// cropOrder ranks subs by how much their corners matter, 0 for not at all:
// shape is in question first, then any other doubt, then the best sub of each
// group, which the others are compared with, then the rest.
func cropOrder(r *night.Result) []int {
	rank := make([]int, len(r.Subs))
	best := map[int]int{}
	for i, s := range r.Subs {
		switch {
		case slices.Contains(s.Causes, subs.Trailed) || slices.Contains(s.Causes, subs.Soft):
			rank[i] = 4
		case s.Verdict == subs.Doubtful:
			rank[i] = 3
		case s.Verdict == subs.Cull:
			rank[i] = 1
		default:
			rank[i] = 2
		}
		if b, ok := best[s.Stack]; s.Weight.OK() && (!ok || s.Weight.V > r.Subs[b].Weight.V) {
			best[s.Stack] = i
		}
	}
	for _, i := range best {
		rank[i] = 5
	}
	return rank
}
