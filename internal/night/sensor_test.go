package night

import (
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"fitsqa/internal/frames"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stack"
	"fitsqa/internal/worth"
)

// Hot pixels of the ledger speak where they are those of the same camera, frame, temperature
// and exposure, and of another date than the subs.
func TestHotPixelsOfEarlierDarks(t *testing.T) {
	sub := &frames.Frame{Meta: frames.NoMeta()}
	sub.Meta.Start = time.Date(2025, 3, 20, 22, 0, 0, 0, time.UTC)
	lights := frames.Group{Kind: frames.Light, Camera: "C1", Width: 600, Height: 400, BinX: 1, BinY: 1, GainSetting: 100,
		OffsetSetting: math.NaN(), SetTemp: -10, Exposure: 300, Frames: []*frames.Frame{sub}}
	then := sensor.HotMap{Camera: "C1", Setting: "gain 100, -10 °C, 300 s", Night: "2025-03-01", Width: 600, Height: 400, All: 9,
		Rate: 0.01, Pixels: []sensor.HotPixel{{X: 1, Y: 2, Rate: 3}}}
	told := func(change func(*sensor.HotMap)) bool {
		m := then
		change(&m)
		r := &Result{Settings: Settings{HotMaps: []sensor.HotMap{m}}}
		return r.earlierHot(&lights) != nil
	}
	for name, test := range map[string]struct {
		change func(*sensor.HotMap)
		want   bool
	}{
		"the same mode":       {func(*sensor.HotMap) {}, true},
		"the subs' own night": {func(m *sensor.HotMap) { m.Night = "2025-03-20" }, false},
		"warmer":              {func(m *sensor.HotMap) { m.Setting = "gain 100, 0 °C, 300 s" }, false},
		"another camera":      {func(m *sensor.HotMap) { m.Camera = "C2" }, false},
		"a part of the frame": {func(m *sensor.HotMap) { m.Width = 300 }, false},
		"no date":             {func(m *sensor.HotMap) { m.Night = "" }, false},
	} {
		if got := told(test.change); got != test.want {
			t.Errorf("%s: %v", name, got)
		}
	}
}

// A flat raises the charge of a hot pixel above the others, and hides those without light.
func TestFlatOnHotPixels(t *testing.T) {
	var room *stack.Room
	then := worth.Then{Rate: 0.5, Hot: []sensor.HotPixel{{X: 0, Y: 0, Rate: 2.5}, {X: 1, Y: 1, Rate: 2.5}, {X: 0, Y: 1, Rate: 2.5}, {X: 2, Y: 0, Rate: 2.5}}}
	got := flattened(then, 2, 2, room.Add([]float32{1, 1, 0, 0.8}))
	if want := []sensor.HotPixel{{X: 0, Y: 0, Rate: 2.5}, {X: 1, Y: 1, Rate: 3}}; !cmp.Equal(got.Hot, want, cmpopts.EquateApprox(1e-6, 0)) {
		t.Errorf("%+v", got.Hot)
	}
	if then.Hot[1].Rate != 2.5 || len(flattened(then, 2, 2, nil).Hot) != 4 {
		t.Error("the ledger's rates are changed, or there is no flat and pixels are left out")
	}
}

// Blocks reach both edges of a frame, follow each other without overlap, begin on
// a mosaic's even rows, and hold no more than is meant to be looked at, or three blocks.
func TestSeenRows(t *testing.T) {
	for _, size := range [][2]int{{1280, 960}, {6248, 4176}, {9576, 6388}, {641, 481}} {
		rows, block := seenRows(size[0], size[1])
		if len(rows) > max(3*seenBlock, seenPixels/size[0]) || len(rows)%block != 0 || block%2 != 0 {
			t.Errorf("%v: %d rows in blocks of %d", size, len(rows), block)
		}
		for i := 1; i < len(rows); i++ {
			if rows[i] <= rows[i-1] || i%block == 0 && rows[i]%2 != 0 {
				t.Fatalf("%v: row %d after %d", size, rows[i], rows[i-1])
			}
		}
		if rows[0] != 0 || rows[len(rows)-1] < size[1]-2 {
			t.Errorf("%v: rows %d to %d", size, rows[0], rows[len(rows)-1])
		}
	}
}
