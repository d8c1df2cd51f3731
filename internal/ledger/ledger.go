// Package ledger keeps a season's nights in one file, so that hours add up over
// nights and a camera can be watched over months.
//
// What is kept is one row a sub, one row a calibration figure and one map of hot pixels
// a setting of darks, not sums: a sub
// is known by its camera and its start, wherever its file lies and whatever it is
// called now. A run replaces the rows of the subs that it saw and leaves all
// others alone, so that a night that is checked twice, or in two halves, is
// counted once. Subs without a start time cannot be told apart and are left out.
//
// The file is an SQLite database. Every change is one transaction: it is there as
// a whole or not at all, also when the disk is full or two runs write at once.
package ledger

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"iter"
	"net/url"
	"os"
	"path/filepath"
	"runtime"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// Errors that tell what a user can do about a ledger.
var (
	errNewer   = errors.New("was written by a newer version of this program; it was not touched")
	errForeign = errors.New("is a database of something else; it was not touched")
	errDamaged = errors.New("is damaged; move it aside to begin a new one, it was not touched")
	errFull    = errors.New("the disk is full; this night was not recorded, what was there before is unharmed")
	errBusy    = errors.New("is in use by another run; nothing was changed, try again")
)

// Marks of the file: "fqal" as a number, and the version of the tables.
const (
	applicationID = 0x6671616c
	schemaVersion = 7
)

const schema = `
CREATE TABLE sub (
	camera   TEXT NOT NULL,
	start    TEXT NOT NULL, -- UTC
	nth      INTEGER NOT NULL, -- among subs with one start, whose header tells only seconds
	night    TEXT NOT NULL, -- date of the evening
	target   TEXT NOT NULL,
	filter   TEXT NOT NULL,
	exposure REAL NOT NULL, -- s
	verdict  TEXT NOT NULL,
	cause    TEXT NOT NULL, -- leading, '' for none
	weight   REAL, -- 0..1
	fwhm     REAL, -- arcsec
	sky      REAL, -- e-/s per square arcsec
	sky_mag  REAL, -- mag per square arcsec
	lat      REAL, -- degrees
	lon      REAL,
	file     TEXT NOT NULL,
	ra       REAL, -- degrees, J2000
	dec      REAL,
	scale    REAL, -- arcsec a pixel
	optics   TEXT NOT NULL DEFAULT '', -- what must be equal for light to be compared
	level    REAL, -- light of the night's clear sky over that of the reference
	depth    REAL, -- of weight 1: signal to noise squared a second, for light of the reference
	zero     REAL, -- mag, of the night's clear sky; at airmass 1 since version 4
	ellipticity REAL,
	noise    REAL, -- e-² a second and square arcsec
	could    REAL, -- depth in the clearest air that was known of the set-up
	level_err REAL, -- 1 sigma
	zero_err REAL,
	PRIMARY KEY (camera, start, nth)
) STRICT;
CREATE INDEX sub_night ON sub (night);
CREATE TABLE reference (
	target TEXT NOT NULL, -- as compared, not as spelled
	filter TEXT NOT NULL,
	optics TEXT NOT NULL,
	night  TEXT NOT NULL, -- date of the evening
	width  INTEGER NOT NULL, -- px
	height INTEGER NOT NULL,
	stars  TEXT NOT NULL, -- JSON
	PRIMARY KEY (target, filter, optics)
) STRICT;
CREATE TABLE figure (
	camera      TEXT NOT NULL,
	night       TEXT NOT NULL, -- date of the evening on which the frames were shot
	metric      TEXT NOT NULL,
	setting     TEXT NOT NULL, -- what must be equal for two figures to be comparable
	unit        TEXT NOT NULL,
	value       REAL NOT NULL,
	uncertainty REAL, -- 1 sigma
	frames      INTEGER NOT NULL,
	PRIMARY KEY (camera, night, metric, setting)
) STRICT;
CREATE TABLE hot (
	camera  TEXT NOT NULL,
	setting TEXT NOT NULL, -- of the darks
	night   TEXT NOT NULL, -- date of the evening
	width   INTEGER NOT NULL, -- px
	height  INTEGER NOT NULL,
	hot     INTEGER NOT NULL, -- hot pixels, listed or not
	rate    REAL NOT NULL, -- e-/s, of the other pixels
	pixels  BLOB NOT NULL, -- the hottest: column, row, rate
	PRIMARY KEY (camera, setting)
) STRICT;
`

// upgrades bring a file from each version to the next, from the first on. They
// only add: what an older file holds stays, and what it lacks is unknown.
var upgrades = []string{
	`ALTER TABLE sub ADD COLUMN ra REAL; ALTER TABLE sub ADD COLUMN dec REAL; ALTER TABLE sub ADD COLUMN scale REAL;`,
	`ALTER TABLE sub ADD COLUMN optics TEXT NOT NULL DEFAULT ''; ALTER TABLE sub ADD COLUMN level REAL;
	ALTER TABLE sub ADD COLUMN depth REAL; ALTER TABLE sub ADD COLUMN zero REAL;
	CREATE TABLE reference (target TEXT NOT NULL, filter TEXT NOT NULL, optics TEXT NOT NULL, night TEXT NOT NULL,
		width INTEGER NOT NULL, height INTEGER NOT NULL, stars TEXT NOT NULL, PRIMARY KEY (target, filter, optics)) STRICT;`,
	`ALTER TABLE sub ADD COLUMN ellipticity REAL; ALTER TABLE sub ADD COLUMN noise REAL;`,
	`ALTER TABLE sub ADD COLUMN could REAL;`,
	`ALTER TABLE sub ADD COLUMN level_err REAL; ALTER TABLE sub ADD COLUMN zero_err REAL;`,
	`CREATE TABLE hot (camera TEXT NOT NULL, setting TEXT NOT NULL, night TEXT NOT NULL, width INTEGER NOT NULL, height INTEGER NOT NULL,
		hot INTEGER NOT NULL, rate REAL NOT NULL, pixels BLOB NOT NULL, PRIMARY KEY (camera, setting)) STRICT;`,
}

// Ledger is an open ledger file.
type Ledger struct {
	db   *sql.DB
	path string
}

// DefaultPath is ledger.db in this program's folder among the user's data.
func DefaultPath() (string, error) {
	dir := os.Getenv("XDG_DATA_HOME")
	switch {
	case filepath.IsAbs(dir):
	case runtime.GOOS == "windows" || runtime.GOOS == "darwin":
		var err error
		if dir, err = os.UserConfigDir(); err != nil {
			return "", err
		}
	default:
		home, err := os.UserHomeDir()
		if err != nil {
			return "", err
		}
		dir = filepath.Join(home, ".local", "share")
	}
	return filepath.Join(dir, "fitsqa", "ledger.db"), nil
}

// busyMilliseconds is how long a run waits for another one that is writing.
const busyMilliseconds = 10000

// Open opens the ledger, or begins a new one where there is no file. A file that
// is not a sound ledger of a known version is refused, unchanged.
func Open(ctx context.Context, path string) (*Ledger, error) {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return nil, fmt.Errorf("ledger: %w", err)
	}
	return open(ctx, path, "rwc")
}

// OpenExisting opens the ledger for reading what it holds; no file is an error
// that is fs.ErrNotExist.
func OpenExisting(ctx context.Context, path string) (*Ledger, error) {
	if info, err := os.Stat(path); err != nil {
		return nil, fmt.Errorf("ledger: %w", err)
	} else if info.IsDir() {
		return nil, fmt.Errorf("ledger: %w", &fs.PathError{Op: "open", Path: path, Err: errors.New("is a folder")})
	}
	return open(ctx, path, "rw")
}

func open(ctx context.Context, path, mode string) (*Ledger, error) {
	absolute, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("ledger: %w", err)
	}
	address := url.URL{Scheme: "file", Path: filepath.ToSlash(absolute), RawQuery: url.Values{
		"mode":    {mode},
		"_txlock": {"immediate"}, // a transaction that will write waits at its start, not at its end
		"_pragma": {fmt.Sprintf("busy_timeout(%d)", busyMilliseconds), "synchronous(full)"},
	}.Encode()}
	db, err := sql.Open("sqlite", address.String())
	if err != nil {
		return nil, fmt.Errorf("ledger: %w", err)
	}
	db.SetMaxOpenConns(1)
	l := &Ledger{db: db, path: path}
	if err := l.prepare(ctx); err != nil {
		db.Close()
		return nil, l.explain(err)
	}
	return l, nil
}

// Close releases the file.
func (l *Ledger) Close() error { return l.db.Close() }

// prepare checks the file, lays out the tables in an empty one and brings those
// of an older version up to date.
func (l *Ledger) prepare(ctx context.Context) error {
	tx, err := l.db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	var application, version, tables int
	for pragma, into := range map[string]*int{
		"PRAGMA application_id":              &application,
		"PRAGMA user_version":                &version,
		"SELECT count(*) FROM sqlite_schema": &tables,
	} {
		if err := tx.QueryRowContext(ctx, pragma).Scan(into); err != nil {
			return err
		}
	}
	switch {
	case tables == 0 && version == 0 && (application == 0 || application == applicationID):
		_, err := tx.ExecContext(ctx, schema+fmt.Sprintf("PRAGMA application_id = %d; PRAGMA user_version = %d;", applicationID, schemaVersion))
		if err != nil {
			return err
		}
		return tx.Commit()
	case application != applicationID:
		return errForeign
	case version > schemaVersion:
		return errNewer
	}
	var sound string
	if err := tx.QueryRowContext(ctx, "PRAGMA quick_check(1)").Scan(&sound); err != nil {
		return err
	}
	if sound != "ok" {
		return fmt.Errorf("%w (%s)", errDamaged, sound)
	}
	if version == schemaVersion {
		return nil
	}
	for _, step := range upgrades[max(version, 1)-1:] {
		if _, err := tx.ExecContext(ctx, step); err != nil {
			return err
		}
	}
	if _, err := tx.ExecContext(ctx, fmt.Sprintf("PRAGMA user_version = %d", schemaVersion)); err != nil {
		return err
	}
	return tx.Commit()
}

// rows are those of an answer, each as what scans it; where the query or its reading fails,
// the last one gives that error.
func (l *Ledger) rows(ctx context.Context, query string, args ...any) iter.Seq[func(into ...any) error] {
	return func(yield func(func(into ...any) error) bool) {
		rows, err := l.db.QueryContext(ctx, query, args...)
		if err == nil {
			defer rows.Close()
			for rows.Next() {
				if !yield(rows.Scan) {
					return
				}
			}
			err = rows.Err()
		}
		if err != nil {
			yield(func(...any) error { return err })
		}
	}
}

// explain names the file and turns the database's codes into errors that tell
// what to do.
func (l *Ledger) explain(err error) error {
	if err == nil {
		return nil
	}
	if coded, ok := errors.AsType[*sqlite.Error](err); ok {
		switch coded.Code() & 0xff { // the low byte is the kind
		case sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_CORRUPT:
			err = errDamaged
		case sqlite3.SQLITE_FULL:
			err = errFull
		case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
			err = errBusy
		}
	}
	return fmt.Errorf("ledger %s: %w", l.path, err)
}
