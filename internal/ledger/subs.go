package ledger

import (
	"context"
	"database/sql"
	"fmt"
	"time"
)

// Subs are all subs of the season, by start.
func (l *Ledger) Subs(ctx context.Context) (list []Sub, err error) {
	defer func() { err = l.explain(err) }()
	for scan := range l.rows(ctx, `SELECT camera, start, night, target, filter, exposure, verdict, cause,
		weight, fwhm, sky, sky_mag, lat, lon, ra, dec, scale, level, depth, zero, ellipticity, noise, could, level_err, zero_err, optics, file FROM sub ORDER BY start, camera, nth`) {
		var s Sub
		var start string
		var n [17]sql.NullFloat64
		if err := scan(&s.Camera, &start, &s.Night, &s.Target, &s.Filter, &s.Exposure, &s.Verdict, &s.Cause,
			&n[0], &n[1], &n[2], &n[3], &n[4], &n[5], &n[6], &n[7], &n[8], &n[9], &n[10], &n[11], &n[12], &n[13], &n[14], &n[15], &n[16], &s.Optics, &s.File); err != nil {
			return nil, err
		}
		if s.Start, err = time.Parse(startFormat, start); err != nil {
			return nil, fmt.Errorf("%w: a sub starts at %q", errDamaged, start)
		}
		for i, to := range []*float64{&s.Weight, &s.FWHM, &s.Sky, &s.SkyMag, &s.Lat, &s.Lon, &s.RA, &s.Dec, &s.Scale, &s.Level, &s.Depth, &s.Zero, &s.Ellipticity, &s.Noise, &s.Could, &s.LevelErr, &s.ZeroErr} {
			*to = number(n[i])
		}
		list = append(list, s)
	}
	return list, nil
}
