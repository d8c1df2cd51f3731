package ledger

import (
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// A file of the first version keeps its rows, and takes new ones beside them.
func TestUpgradeKeepsRows(t *testing.T) {
	path := filepath.Join(t.TempDir(), "ledger.db")
	l, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	old := Sub{Camera: "C", Start: time.Date(2025, 3, 1, 22, 0, 0, 0, time.UTC), Night: "2025-03-01", Target: "T", Filter: "L",
		Exposure: 60, Verdict: "keep", Weight: 0.9, Level: math.NaN(), Depth: math.NaN(), Zero: math.NaN(), Ellipticity: 0.1, Noise: 3, Could: math.NaN(), LevelErr: math.NaN(), ZeroErr: math.NaN(), FWHM: 2.5, Sky: 1, SkyMag: math.NaN(), Lat: 10, Lon: 20, File: "a.fits",
		RA: 30, Dec: 40, Scale: 0.8}
	if err := l.Record(t.Context(), Record{Subs: []Sub{old}}); err != nil {
		t.Fatal(err)
	}
	for column := range strings.FieldsSeq("ra dec scale optics level depth zero ellipticity noise could level_err zero_err") { // as the first version had it
		if _, err := l.db.Exec("ALTER TABLE sub DROP COLUMN " + column); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := l.db.Exec("DROP TABLE reference; DROP TABLE hot"); err != nil {
		t.Fatal(err)
	}
	if _, err := l.db.Exec("PRAGMA user_version = 1"); err != nil {
		t.Fatal(err)
	}
	l.Close()

	if l, err = OpenExisting(t.Context(), path); err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	young := old
	young.Start, young.File = old.Start.Add(time.Hour), "b.fits"
	if err := l.Record(t.Context(), Record{Subs: []Sub{young}}); err != nil {
		t.Fatal(err)
	}
	list, err := l.Subs(t.Context())
	if err != nil || len(list) != 2 {
		t.Fatalf("%d subs, %v", len(list), err)
	}
	if a := list[0]; a.File != "a.fits" || a.Weight != 0.9 || !a.Start.Equal(old.Start) || !math.IsNaN(a.RA) || !math.IsNaN(a.Scale) {
		t.Errorf("the old row reads %+v", a)
	}
	if a := list[0]; a.Optics != "" || !math.IsNaN(a.Depth) || !math.IsNaN(a.Zero) || !math.IsNaN(a.Ellipticity) || !math.IsNaN(a.Noise) {
		t.Errorf("the old row is on a scale: %+v", a)
	}
	// What is not known of the season's scale counts as the best.
	if h := hours(t, l); len(h) != 1 || h[0].Clear != 2*0.9*60 {
		t.Errorf("hours: %+v", h)
	}
	if maps, err := l.HotMaps(t.Context()); err != nil || len(maps) != 0 {
		t.Errorf("hot pixels: %v, %v", maps, err)
	}
	if b := list[1]; b.RA != 30 || b.Dec != 40 || b.Scale != 0.8 || b.Ellipticity != 0.1 || b.Noise != 3 || !math.IsNaN(b.SkyMag) {
		t.Errorf("the new row reads %+v", b)
	}
}
