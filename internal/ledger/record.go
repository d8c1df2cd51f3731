package ledger

import (
	"context"
	"database/sql"
	"math"
	"time"

	"fitsqa/internal/names"
	"fitsqa/internal/night"
	"fitsqa/internal/sensor"
)

// Record is what one run has to tell. Unknown numbers are NaN.
type Record struct {
	Subs       []Sub
	Figures    []Figure
	References []night.Reference // of views that had none; one that is there stays
	HotMaps    []sensor.HotMap   // the latest night's replaces that of the same setting
}

// Sub is one sub as the ledger keeps it.
type Sub struct {
	Camera         names.Name
	Start          time.Time // UTC
	Night          string    // date of the evening
	Target, Filter names.Name
	Exposure       float64 // s
	Verdict        string
	Cause          string  // leading; "" for none
	Weight         float64 // 0..1
	FWHM           float64 // arcsec
	Sky            float64 // e-/s per square arcsec
	SkyMag         float64 // mag per square arcsec
	Lat, Lon       float64 // degrees
	RA, Dec        float64 // degrees, J2000
	Scale          float64 // arcsec a pixel
	Optics         string  // what must be equal for light to be compared
	Level, Depth   float64 // see night.Merit
	Could          float64 // likewise
	Zero           float64 // mag, zero point of the night's clear sky at airmass 1
	LevelErr       float64 // 1 sigma
	ZeroErr        float64 // 1 sigma
	Ellipticity    float64
	Noise          float64 // e-² a second and square arcsec
	File           string
}

// Figure is one measured figure of a camera.
type Figure struct {
	Camera      names.Name
	Night       string // date of the evening on which the frames were shot
	Metric      string // as in calibration.csv
	Setting     string // what must be equal for two figures to be comparable: "gain 100, -10 °C"
	Unit        string
	Value       float64
	Uncertainty float64 // 1 sigma
	Frames      int
}

// startFormat sorts as text in the order of time.
const startFormat = "2006-01-02T15:04:05.000000Z"

// Record writes what a run saw, in one transaction: subs and figures that are
// there already are replaced, all others stay.
func (l *Ledger) Record(ctx context.Context, r Record) (err error) {
	defer func() { err = l.explain(err) }()
	tx, err := l.db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	if err := recordSubs(ctx, tx, r.Subs); err != nil {
		return err
	}
	if err := recordFigures(ctx, tx, r.Figures); err != nil {
		return err
	}
	if err := recordHot(ctx, tx, r.HotMaps); err != nil {
		return err
	}
	if err := recordReferences(ctx, tx, r.References); err != nil {
		return err
	}
	return tx.Commit()
}

func recordSubs(ctx context.Context, tx *sql.Tx, subs []Sub) error {
	put, err := tx.PrepareContext(ctx, `INSERT OR REPLACE INTO sub
		(camera, start, nth, night, target, filter, exposure, verdict, cause, weight, fwhm, sky, sky_mag, lat, lon, file, ra, dec, scale, optics, level, depth, zero, ellipticity, noise, could, level_err, zero_err)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`)
	if err != nil {
		return err
	}
	defer put.Close()
	type moment struct {
		camera names.Name
		start  string
	}
	seen := map[moment]int{}
	for _, s := range subs {
		if s.Start.IsZero() || !(s.Exposure > 0) {
			continue
		}
		m := moment{s.Camera, s.Start.UTC().Format(startFormat)}
		_, err := put.ExecContext(ctx, m.camera, m.start, seen[m], s.Night, s.Target, s.Filter, s.Exposure, s.Verdict, s.Cause,
			null(s.Weight), null(s.FWHM), null(s.Sky), null(s.SkyMag), null(s.Lat), null(s.Lon), s.File,
			null(s.RA), null(s.Dec), null(s.Scale), s.Optics, null(s.Level), null(s.Depth), null(s.Zero), null(s.Ellipticity), null(s.Noise), null(s.Could), null(s.LevelErr), null(s.ZeroErr))
		if err != nil {
			return err
		}
		seen[m]++
	}
	return nil
}

func recordFigures(ctx context.Context, tx *sql.Tx, figures []Figure) error {
	for _, f := range figures {
		if math.IsNaN(f.Value) || math.IsInf(f.Value, 0) {
			continue
		}
		_, err := tx.ExecContext(ctx, `INSERT OR REPLACE INTO figure
			(camera, night, metric, setting, unit, value, uncertainty, frames) VALUES (?, ?, ?, ?, ?, ?, ?, ?)`,
			f.Camera, f.Night, f.Metric, f.Setting, f.Unit, f.Value, null(f.Uncertainty), f.Frames)
		if err != nil {
			return err
		}
	}
	return nil
}

// Forget takes the subs, figures and hot pixels of one night out of the ledger, and says how
// many subs and figures. It touches no frame.
func (l *Ledger) Forget(ctx context.Context, night string) (rows int64, err error) {
	defer func() { err = l.explain(err) }()
	tx, err := l.db.BeginTx(ctx, nil)
	if err != nil {
		return 0, err
	}
	defer tx.Rollback()
	for _, statement := range []string{"DELETE FROM sub WHERE night = ?", "DELETE FROM figure WHERE night = ?"} {
		result, err := tx.ExecContext(ctx, statement, night)
		if err != nil {
			return 0, err
		}
		n, err := result.RowsAffected()
		if err != nil {
			return 0, err
		}
		rows += n
	}
	if _, err := tx.ExecContext(ctx, "DELETE FROM hot WHERE night = ?", night); err != nil {
		return 0, err
	}
	return rows, tx.Commit()
}

// null keeps what is unknown apart from every number.
func null(x float64) any {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return x
}

func number(x sql.NullFloat64) float64 {
	if !x.Valid {
		return math.NaN()
	}
	return x.Float64
}
