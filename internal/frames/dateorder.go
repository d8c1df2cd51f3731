package frames

import (
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/names"
)

// oneNight is how near two starts of one night are; the readings of a date lie a month
// apart and more, but for the first days of a year.
const oneNight = 36 * time.Hour

// settleDates settles dates like 9/7/2021 by the other frames: by one of the same camera
// whose date of this form can be read in one way only, else by any whose date is not of
// it and that is of the same night by one of the readings. What nothing settles stays as
// it was taken, and says so.
func settleDates(fs []*Frame) {
	sure := map[names.Name]dateOrder{} // noOrder where a camera's dates differ
	for _, f := range fs {
		m := &f.Meta
		if order := m.between.order; order == dayFirst || order == monthFirst {
			if before, known := sure[m.Camera]; known && before != order {
				order = noOrder
			}
			sure[m.Camera] = order
		}
	}
	for _, f := range fs {
		m := &f.Meta
		if m.between.order != either || m.Start.IsZero() {
			continue
		}
		order := sure[m.Camera]
		if order == noOrder {
			order = m.orderBeside(fs)
		}
		switch order {
		case noOrder:
			f.warn(DayOrMonth, fact.Text("date", m.Start.Format(time.DateOnly)))
		case m.between.taken:
		default:
			m.Start = m.Start.Add(m.between.other)
		}
	}
}

// orderBeside is how a date must be read to be of one night with frames whose dates leave
// no choice; noOrder where none is, or where both readings are.
func (m *Meta) orderBeside(fs []*Frame) dateOrder {
	as, turned := false, false
	for _, o := range fs {
		if o.Meta.Start.IsZero() || o.Meta.between.order == either {
			continue
		}
		ahead := m.Start.Sub(o.Meta.Start)
		as = as || ahead.Abs() < oneNight
		turned = turned || (ahead+m.between.other).Abs() < oneNight
	}
	switch {
	case as == turned:
		return noOrder
	case as == (m.between.taken == dayFirst):
		return dayFirst
	}
	return monthFirst
}
