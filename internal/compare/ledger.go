package compare

import (
	"context"
	"fmt"
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/ledger"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// FromLedger gathers one night of the ledger by the date of its evening. Nights that were
// recorded by an older version have neither ellipticity nor noise.
func FromLedger(ctx context.Context, l *ledger.Ledger, date string) (Side, error) {
	all, err := l.Subs(ctx)
	if err != nil {
		return Side{}, err
	}
	side := Side{Name: date}
	for _, s := range all {
		if s.Night != date || !subs.Verdict(s.Verdict).Usable() {
			continue
		}
		if !has(side.Groups, groupFigure{Target: s.Target, Filter: s.Filter}) {
			side.Groups = append(side.Groups, ofNight(all, date, s))
		}
	}
	if len(side.Groups) == 0 {
		return Side{}, fmt.Errorf("the ledger has no usable sub of the night of %s", date)
	}
	return side, nil
}

func ofNight(all []ledger.Sub, date string, like ledger.Sub) Group {
	g := Group{Target: like.Target, Filter: like.Filter}
	var zero, level, zeroErr, levelErr, mag, sky, fwhm, ellipticity, noise sample
	for _, s := range all {
		if s.Night != date || !subs.Verdict(s.Verdict).Usable() || !s.Target.Is(like.Target) || !s.Filter.Is(like.Filter) {
			continue
		}
		g.Subs++
		g.Reference = s.Optics // the ledger has one for each
		for _, f := range []struct {
			into *sample
			x    float64
		}{{&zero, s.Zero}, {&level, s.Level}, {&zeroErr, s.ZeroErr}, {&levelErr, s.LevelErr}, {&mag, s.SkyMag}, {&sky, s.Sky}, {&fwhm, s.FWHM}, {&ellipticity, s.Ellipticity}, {&noise, s.Noise}} {
			f.into.add(stats.Value{V: f.x, Err: math.NaN(), Why: fact.Of(NotInLedger)}, 1)
		}
	}
	// One figure a night, the same beside each of its subs: their scatter is no error.
	g.ZeroPoint, g.Level = zero.median(), level.median()
	g.ZeroPoint.Err, g.Level.Err = zeroErr.median().V, levelErr.median().V
	g.SkyMag, g.Sky, g.FWHM = mag.median(), sky.median(), fwhm.median()
	g.Ellipticity, g.Noise = ellipticity.median(), noise.median()
	return g
}
