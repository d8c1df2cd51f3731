package plate

import (
	"math"
)

// neighboursOf is how many of its nearest neighbours a catalogue star makes quads with.
const neighboursOf = 6

// tile passes the quads of each of the brightest n stars in a tile with its neighbours.
func (p *search) tile(near *sky, n int, t *tile, reach float64) *Solution {
	// By height above the equator, neighbours are near in the list as well.
	order := make([]int, 0, n)
	for _, i := range near.rising {
		if int(i) < n {
			order = append(order, int(i))
		}
	}
	for k, i := range order {
		if p.over() {
			return nil
		}
		if !t.holds(near.cat[i].RA, near.cat[i].Dec) {
			continue
		}
		others := nearestStars(near, order, k, reach)
		apart := near.chords(append(others, i))
		me := len(others)
		for a := range others {
			for b := range a {
				for c := range b {
					between := [6]float64{apart[me][a], apart[me][b], apart[me][c], apart[a][b], apart[a][c], apart[b][c]}
					if s := p.pass(near, [4]int{i, others[a], others[b], others[c]}, between); s != nil {
						return s
					}
				}
			}
		}
	}
	return nil
}

// nearestStars are the stars nearest to the k-th in order, within reach (a chord).
func nearestStars(near *sky, order []int, k int, reach float64) []int {
	var found [neighboursOf]int
	var dist [neighboursOf]float64
	count := 0
	me := near.at[order[k]]
	limit := reach
	offer := func(i int) {
		d := me.chord(near.at[i])
		if d >= limit {
			return
		}
		at := count
		if count < neighboursOf {
			count++
		} else {
			at--
		}
		for at > 0 && dist[at-1] > d {
			dist[at], found[at] = dist[at-1], found[at-1]
			at--
		}
		dist[at], found[at] = d, i
		if count == neighboursOf {
			limit = dist[neighboursOf-1]
		}
	}
	down, up := k-1, k+1
	for down >= 0 || up < len(order) {
		if down >= 0 {
			if i := order[down]; me[2]-near.at[i][2] < limit {
				offer(i)
				down--
			} else {
				down = -1
			}
		}
		if up < len(order) {
			if i := order[up]; near.at[i][2]-me[2] < limit {
				offer(i)
				up++
			} else {
				up = len(order)
			}
		}
	}
	return append(make([]int, 0, neighboursOf+1), found[:count]...)
}

func (s *sky) chords(list []int) (between [neighboursOf + 1][neighboursOf + 1]float64) {
	for a, i := range list {
		for b, j := range list[:a] {
			d := s.at[i].chord(s.at[j])
			between[a][b], between[b][a] = d, d
		}
	}
	return between
}

// pass looks one quad of the sky up by the distances between its stars, and tries what
// it proposes.
func (p *search) pass(near *sky, q [4]int, between [6]float64) *Solution {
	s, longest := shapeOf(between)
	if s[4] < minSide {
		return nil
	}
	// What is rounded in an entry leaves out what is out of reach; the rest is compared below.
	const rounding = 1e-5
	arcsec := longest / rad * 3600
	small, large := float32(arcsec/p.large*(1-rounding)), float32(arcsec/p.least*(1+rounding))
	low, high := float32(s[4]-alike-rounding), float32(s[4]+alike+rounding)
	for _, e := range p.table.look(&s) {
		if e.longest < small || e.longest > large || e.shortest < low || e.shortest > high {
			continue
		}
		fq := &p.table.quads[e.quad]
		scale := arcsec / fq.longest
		if scale < p.least || scale > p.large || !s.like(&fq.shape) {
			continue
		}
		here := distances(func(i, j int) float64 {
			a, b := p.field.places[fq.corners[i]], p.field.places[fq.corners[j]]
			return math.Hypot(a.x-b.x, a.y-b.y)
		})
		for _, o := range named(between, here) {
			p.tried += p.each
			var places [4]point
			var at [4]vector
			for i := range 4 {
				at[i], places[i] = near.at[q[i]], p.field.places[fq.corners[o[i]]]
			}
			if got := p.try(near, places, at); got != nil {
				return got
			}
		}
	}
	return nil
}
