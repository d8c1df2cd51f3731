package ledger

import (
	"context"
	"database/sql"
	"math"

	"fitsqa/internal/names"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// Best is the best that one site gave through one filter, of the medians of its
// nights, and how its figures spread; all over subs that were kept.
type Best struct {
	Lat, Lon  float64 // degrees, rounded to 0.01 (1 km); NaN for subs without a site
	Filter    names.Name
	Nights    int
	FWHM      float64 // arcsec; NaN when never measured
	FWHMNight string
	Sky       float64 // e-/s per square arcsec
	SkyNight  string
	SkyMag    float64 // mag per square arcsec

	// Over single subs of all nights, so that a night of many subs counts for more.
	AllFWHM, AllSky, AllMag Spread
	All                     []SiteNight // in time order
}

// Spread is how one figure was distributed; NaN when it was never measured.
type Spread struct {
	Subs         int
	Median, Best float64 // Best: what the best tenth reach
}

// SiteNight is one night of a site and filter: medians, NaN of fewer than enoughSubs.
type SiteNight struct {
	Night             string
	FWHM, Sky, SkyMag float64 // as of Best
}

const enoughSubs = 5

// Sites gives the best and the spread of every site and filter.
func (l *Ledger) Sites(ctx context.Context) (list []Best, err error) {
	defer func() { err = l.explain(err) }()
	var all, one siteFigures // of the last site, and of its last night
	for scan := range l.rows(ctx, `SELECT round(lat, 2), round(lon, 2), filter, night, fwhm, sky, sky_mag
		FROM sub WHERE verdict = ? ORDER BY 1, 2, filter COLLATE spelling, night`, subs.Keep) {
		var lat, lon, f, s, m sql.NullFloat64
		var filter names.Name
		var date string
		if err := scan(&lat, &lon, &filter, &date, &f, &s, &m); err != nil {
			return nil, err
		}
		nan := math.NaN()
		b := Best{Lat: number(lat), Lon: number(lon), Filter: filter, FWHM: nan, Sky: nan, SkyMag: nan}
		last := len(list) - 1
		newSite := last < 0 || !stats.Same(list[last].Lat, b.Lat) || !stats.Same(list[last].Lon, b.Lon) || !list[last].Filter.Is(b.Filter)
		if last >= 0 && (newSite || list[last].All[len(list[last].All)-1].Night != date) {
			list[last].settle(one)
			one = siteFigures{}
		}
		if newSite {
			if last >= 0 {
				list[last].spread(all)
			}
			list, all = append(list, b), siteFigures{}
		}
		site := &list[len(list)-1]
		if n := len(site.All); n == 0 || site.All[n-1].Night != date {
			site.All = append(site.All, SiteNight{Night: date})
		}
		one.add(f, s, m)
		all.add(f, s, m)
	}
	if n := len(list); n > 0 {
		list[n-1].settle(one)
		list[n-1].spread(all)
	}
	return list, nil
}

// siteFigures are those of some subs: FWHM in arcsec, sky in e-/s per square arcsec, and
// in mag per square arcsec.
type siteFigures struct{ fwhm, sky, mag []float64 }

func (f *siteFigures) add(fwhm, sky, mag sql.NullFloat64) {
	for _, v := range []struct {
		x    sql.NullFloat64
		into *[]float64
	}{{fwhm, &f.fwhm}, {sky, &f.sky}, {mag, &f.mag}} {
		if v.x.Valid {
			*v.into = append(*v.into, v.x.Float64)
		}
	}
}

func (b *Best) settle(f siteFigures) {
	n := &b.All[len(b.All)-1]
	n.FWHM, n.Sky, n.SkyMag = medianOfEnough(f.fwhm), medianOfEnough(f.sky), medianOfEnough(f.mag)
	b.Nights++
	if n.FWHM < b.FWHM || math.IsNaN(b.FWHM) && !math.IsNaN(n.FWHM) {
		b.FWHM, b.FWHMNight = n.FWHM, n.Night
	}
	if n.Sky < b.Sky || math.IsNaN(b.Sky) && !math.IsNaN(n.Sky) {
		b.Sky, b.SkyNight = n.Sky, n.Night
	}
	if n.SkyMag > b.SkyMag || math.IsNaN(b.SkyMag) {
		b.SkyMag = n.SkyMag
	}
}

func medianOfEnough(x []float64) float64 {
	if len(x) < enoughSubs {
		return math.NaN()
	}
	return stats.Median(x)
}

// spread takes how the figures of all subs are distributed: small widths and low
// rates are good, and so are large magnitudes.
func (b *Best) spread(f siteFigures) {
	b.AllFWHM, b.AllSky, b.AllMag = spreadOf(f.fwhm, 0.1), spreadOf(f.sky, 0.1), spreadOf(f.mag, 0.9)
}

func spreadOf(x []float64, best float64) Spread {
	if len(x) < enoughSubs {
		return Spread{len(x), math.NaN(), math.NaN()}
	}
	return Spread{len(x), stats.Median(x), stats.Quantile(x, best)}
}
