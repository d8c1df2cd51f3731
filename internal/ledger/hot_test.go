package ledger

import (
	"errors"
	"testing"

	"github.com/google/go-cmp/cmp"

	"fitsqa/internal/sensor"
)

// The hot pixels of the latest night are kept, the hottest first, and go with their night.
func TestHotPixelsAreRemembered(t *testing.T) {
	l, _ := fresh(t)
	m := sensor.HotMap{Camera: "C1", Setting: "gain 100, -10 °C, 300 s", Night: "2025-03-01", Width: 6000, Height: 4000, All: 8603, Rate: 0.01}
	for i := range hotKept + 10 {
		m.Pixels = append(m.Pixels, sensor.HotPixel{X: 5999 - i%7, Y: i, Rate: float64(i) / 4})
	}
	m.Pixels = hottest(m.Pixels)
	if len(m.Pixels) != hotKept || m.Pixels[0].Rate != float64(hotKept+9)/4 {
		t.Errorf("%d kept, the first %+v", len(m.Pixels), m.Pixels[0])
	}
	older, other := m, m
	older.Night, older.Pixels = "2025-02-01", m.Pixels[:5]
	other.Setting, other.Night = "gain 0, -10 °C, 300 s", "2025-02-01"
	record(t, l, Record{HotMaps: []sensor.HotMap{older}})
	record(t, l, Record{HotMaps: []sensor.HotMap{m, other}})
	record(t, l, Record{HotMaps: []sensor.HotMap{older}}) // an old library that is checked again
	list, err := l.HotMaps(t.Context())
	if err != nil || len(list) != 2 {
		t.Fatal(len(list), err)
	}
	if got := sensor.RecallHot(list, "C1", m.Setting); got == nil || !cmp.Equal(*got, m) {
		t.Errorf("%s", cmp.Diff(got, &m))
	}
	if got := sensor.RecallHot(list, "C2", m.Setting); got != nil {
		t.Errorf("another camera's: %+v", got)
	}
	if _, err := l.Forget(t.Context(), "2025-03-01"); err != nil {
		t.Fatal(err)
	}
	if list, err = l.HotMaps(t.Context()); err != nil || len(list) != 1 || list[0].Night != "2025-02-01" {
		t.Errorf("%v, %v", list, err)
	}
	if _, err := l.db.Exec("UPDATE hot SET pixels = x'010203'"); err != nil {
		t.Fatal(err)
	}
	if _, err := l.HotMaps(t.Context()); !errors.Is(err, errDamaged) {
		t.Errorf("a map cut short: %v", err)
	}
}
