package ledger

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"math"
	"slices"

	"fitsqa/internal/names"
	"fitsqa/internal/night"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// recordReferences keeps the references of views that have none. One that is there
// stays: all nights' levels are relative to it.
func recordReferences(ctx context.Context, tx *sql.Tx, list []night.Reference) error {
	for _, r := range list {
		text, err := json.Marshal(r.Stars)
		if err != nil {
			return err
		}
		_, err = tx.ExecContext(ctx, `INSERT OR IGNORE INTO reference (target, filter, optics, night, width, height, stars)
			VALUES (?, ?, ?, ?, ?, ?, ?)`, string(r.Target), string(r.Filter), r.Optics, r.Night, r.Width, r.Height, string(text))
		if err != nil {
			return err
		}
	}
	return nil
}

// Season gives the scale that all nights share: references with the best that any
// night made of them, and the clearest night of every set-up.
func (l *Ledger) Season(ctx context.Context) (s night.Season, err error) {
	defer func() { err = l.explain(err) }()
	if s.References, err = l.references(ctx); err != nil {
		return s, err
	}
	best, setups, err := l.merits(ctx)
	if err != nil {
		return s, err
	}
	for i := range s.References {
		if b, ok := best[s.References[i].View]; ok {
			b.fill(&s.References[i])
		}
	}
	s.Setups = setups
	return s, nil
}

func (l *Ledger) references(ctx context.Context) (list []night.Reference, err error) {
	nan := math.NaN()
	for scan := range l.rows(ctx, `SELECT target, filter, optics, night, width, height, stars FROM reference ORDER BY target, filter, optics`) {
		r := night.Reference{Level: nan, Depth: nan, FWHM: nan, Noise: nan}
		var target, filter, text string
		if err := scan(&target, &filter, &r.Optics, &r.Night, &r.Width, &r.Height, &text); err != nil {
			return nil, err
		}
		r.Target, r.Filter = names.Key(target), names.Key(filter)
		if err := json.Unmarshal([]byte(text), &r.Stars); err != nil {
			return nil, fmt.Errorf("%w: the stars of a reference", errDamaged)
		}
		list = append(list, r)
	}
	return list, nil
}

// bestShare of a season's kept subs are as sharp, and their sky as dark, as what is held
// to be the season's best: single subs may be lucky, or measured wrongly.
const bestShare = 0.25

type merit struct {
	level, depth float64
	depthNight   string
	fwhm, noise  []float64 // arcsec; e-² a second and square arcsec; of kept subs
}

func (m *merit) fill(r *night.Reference) {
	if m.depth > 0 {
		r.Level, r.Depth, r.DepthNight = m.level, m.depth, m.depthNight
	}
	if len(m.fwhm) > 0 {
		slices.Sort(m.fwhm)
		r.FWHM, r.Subs = stats.Quantile(m.fwhm, bestShare), len(m.fwhm)
	}
	if len(m.noise) > 0 {
		slices.Sort(m.noise)
		r.Noise = stats.Quantile(m.noise, bestShare)
	}
}

// merits gathers the best of every view and set-up. A night of no usable sub is none.
func (l *Ledger) merits(ctx context.Context) (map[night.View]*merit, []night.Setup, error) {
	best := map[night.View]*merit{}
	setups := map[night.View]*night.Setup{}
	for scan := range l.rows(ctx, `SELECT target, filter, optics, night, level, depth, could, zero, fwhm, noise, verdict
		FROM sub WHERE optics <> '' AND verdict IN (?, ?) ORDER BY night`, subs.Keep, subs.Doubtful) {
		var target, filter names.Name
		var optics, date, verdict string
		var level, depth, could, zero, fwhm, noise sql.NullFloat64
		if err := scan(&target, &filter, &optics, &date, &level, &depth, &could, &zero, &fwhm, &noise, &verdict); err != nil {
			return nil, nil, err
		}
		v := night.View{Target: target.Key(), Filter: filter.Key(), Optics: optics}
		m := best[v]
		if m == nil {
			m = &merit{}
			best[v] = m
		}
		m.take(date, level, depth, could)
		if fwhm.Valid && verdict == string(subs.Keep) {
			m.fwhm = append(m.fwhm, fwhm.Float64)
		}
		if noise.Valid && verdict == string(subs.Keep) {
			m.noise = append(m.noise, noise.Float64)
		}
		v.Target = ""
		if s := setups[v]; zero.Valid && (s == nil || zero.Float64 > s.Zero) {
			setups[v] = &night.Setup{Filter: v.Filter, Optics: optics, Zero: zero.Float64, Night: date}
		}
	}
	var list []night.Setup
	for _, s := range setups {
		list = append(list, *s)
	}
	slices.SortFunc(list, func(a, b night.Setup) int {
		return cmp.Or(cmp.Compare(a.Filter, b.Filter), cmp.Compare(a.Optics, b.Optics))
	})
	return best, list, nil
}

func (m *merit) take(date string, level, depth, could sql.NullFloat64) {
	clear := could.Valid && depth.Valid && could.Float64 > depth.Float64 // than this night, on another target
	light := level.Float64
	if clear { // depth goes with the square of the light
		light *= math.Sqrt(could.Float64 / depth.Float64)
	}
	if level.Valid && light > m.level {
		m.level = light
	}
	if depth.Valid && depth.Float64 > m.depth {
		m.depth, m.depthNight = depth.Float64, date
	}
	if clear && could.Float64 > m.depth {
		m.depth, m.depthNight = could.Float64, ""
	}
}
