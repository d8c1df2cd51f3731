package detect

import (
	"cmp"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/plane"
	"fitsqa/internal/stats"
)

// StarsAt are those of some images, too sharp for one filter, that are stars under another.
func StarsAt(p *plane.Plane, images []stars.Star, s Seeing, threshold float64) (list []stars.Star) {
	k, ring := newKernel(s), ringAround(s)
	for i := range images {
		x, y := int(images[i].X+0.5), int(images[i].Y+0.5)
		x, y, response := k.climb(p, x, y, k.responseAt(p, x, y))
		if im, what := star(p, k, s, candidate{x, y, response}, ring, threshold); what == isStar {
			list = append(list, im.Star)
		}
	}
	return list
}

// SizeOf is the size in common of images that are too sharp for a filter, px; false where
// they are no stars, or too sharp to be told from hot pixels side by side.
func SizeOf(p *plane.Plane, images []stars.Star) (fwhm float64, ok bool) {
	regs := regionsAt(p, images)
	if !areStars(regs) {
		return 0, false
	}
	return stats.Median(sampledSizes(regs)), true
}

// Most of a field's bright stars have one size, within oneSize; of knots fewer have.
const (
	oneSize     = 1.12
	oneSizeMost = 2. / 3
	oneSizeOf   = 60
)

// OneSize tells whether the brightest of some images are of about one size.
func OneSize(p *plane.Plane, images []stars.Star) bool {
	images = slices.SortedFunc(slices.Values(images), func(a, b stars.Star) int { return cmp.Compare(b.SNR, a.SNR) })
	sizes := sampledSizes(regionsAt(p, images[:min(len(images), oneSizeOf)]))
	slices.Sort(sizes)
	for i := range sizes {
		if float64(alikeTo(sizes, i, oneSize)-i) >= oneSizeMost*float64(len(sizes)) {
			return true
		}
	}
	return false
}

// regionsAt are the regions above half the height of some images.
func regionsAt(p *plane.Plane, images []stars.Star) (regs []region) {
	g := grower{r: p.R, w: p.W, h: p.H}
	for i := range images {
		x, y := highest(p, int(images[i].X+0.5), int(images[i].Y+0.5))
		if p.Green >= 0 && alone(p, x, y) {
			continue
		}
		if reg, ok := g.grow(x, y, p.R[y*p.W+x]/2); ok {
			regs = append(regs, reg)
		}
	}
	return regs
}

// highest is the brightest of a pixel and those around it.
func highest(p *plane.Plane, x, y int) (int, int) {
	top := [2]int{x, y}
	for j := max(0, y-1); j <= min(p.H-1, y+1); j++ {
		for i := max(0, x-1); i <= min(p.W-1, x+1); i++ {
			if p.R[j*p.W+i] > p.R[top[1]*p.W+top[0]] {
				top = [2]int{i, j}
			}
		}
	}
	return top[0], top[1]
}
