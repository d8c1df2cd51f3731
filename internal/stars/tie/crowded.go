package tie

import "fitsqa/internal/stars"

// cell is a square of cellSide on the sensor.
type cell struct{ x, y int32 }

const cellSide = 2 // px

func cellOf(s *stars.Star) cell { return cell{int32(s.X / cellSide), int32(s.Y / cellSide)} }

// cellCounts are how many detections of all fields each cell has.
type cellCounts map[cell]int

func newCellCounts(fields []*stars.Field) cellCounts {
	count := cellCounts{}
	for _, f := range fields {
		if f == nil {
			continue
		}
		for _, list := range [][]stars.Star{f.Stars, f.Points} {
			for i := range list {
				count[cellOf(&list[i])]++
			}
		}
	}
	return count
}

// busy tells whether any two by two cells with c among them have so many detections.
func (count cellCounts) busy(c cell, need float64) bool {
	var around [3][3]int
	for dy := range int32(3) {
		for dx := range int32(3) {
			around[dy][dx] = count[cell{c.x + dx - 1, c.y + dy - 1}]
		}
	}
	for y := range 2 {
		for x := range 2 {
			if float64(around[y][x]+around[y][x+1]+around[y+1][x]+around[y+1][x+1]) >= need {
				return true
			}
		}
	}
	return false
}

// crowded are the detections of all fields that may lie at one place with so many
// others, and where each is from. Those of one place lie within 2 fixedReach, so in
// two cells by two at most: most stars are alone there and need not be looked at.
func crowded(fields []*stars.Field, need float64) (list []stars.Star, from []hit) {
	count := newCellCounts(fields)
	add := func(st *stars.Star, field, star int) {
		if count.busy(cellOf(st), need) {
			list, from = append(list, *st), append(from, hit{field, star, st.Flux})
		}
	}
	for k, f := range fields {
		if f == nil {
			continue
		}
		for i := range f.Stars {
			add(&f.Stars[i], k, i)
		}
		for i := range f.Points {
			add(&f.Points[i], k, noStar)
		}
	}
	return list, from
}
