package ledger

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/binary"
	"fmt"
	"math"
	"slices"

	"fitsqa/internal/night"
	"fitsqa/internal/sensor"
	"fitsqa/internal/sky"
)

// hotKept is how many hot pixels are kept of one setting: a fifth of them gone differs
// from chance by far, and 16 kB are nothing.
const hotKept = 2000

// hotMapsOfAll are those of all sets of darks that tell rates in electrons, and when they
// were shot.
func hotMapsOfAll(r *night.Result) (all []sensor.HotMap) {
	if r.Calib == nil {
		return nil
	}
	site := r.NightSite()
	for _, set := range r.Calib.Sets {
		d, times := set.Dark, shotAt(r, set)
		if d == nil || !set.Measured || set.Group == nil || d.RateUnit != "e-/s" || len(d.Hot) == 0 || len(times) == 0 {
			continue
		}
		level := d.Current
		if !level.OK() {
			continue
		}
		all = append(all, sensor.HotMap{Camera: set.Camera, Setting: settingOf(set), Night: sky.NewCalendar(site, times).Date(times[len(times)/2]),
			Width: set.Group.Width, Height: set.Group.Height, All: d.HotCount, Rate: level.V, Pixels: hottest(d.Hot)})
	}
	return all
}

func hottest(pixels []sensor.HotPixel) []sensor.HotPixel {
	sorted := slices.Clone(pixels)
	slices.SortStableFunc(sorted, func(a, b sensor.HotPixel) int { return cmp.Compare(b.Rate, a.Rate) })
	return sorted[:min(len(sorted), hotKept)]
}

func recordHot(ctx context.Context, tx *sql.Tx, maps []sensor.HotMap) error {
	for _, m := range maps {
		_, err := tx.ExecContext(ctx, `INSERT INTO hot (camera, setting, night, width, height, hot, rate, pixels) VALUES (?, ?, ?, ?, ?, ?, ?, ?)
			ON CONFLICT (camera, setting) DO UPDATE SET night = excluded.night, width = excluded.width, height = excluded.height,
				hot = excluded.hot, rate = excluded.rate, pixels = excluded.pixels WHERE excluded.night >= hot.night`,
			m.Camera, m.Setting, m.Night, m.Width, m.Height, m.All, m.Rate, packed(m.Pixels))
		if err != nil {
			return err
		}
	}
	return nil
}

// HotMaps gives the maps of all cameras and settings.
func (l *Ledger) HotMaps(ctx context.Context) (list []sensor.HotMap, err error) {
	defer func() { err = l.explain(err) }()
	for scan := range l.rows(ctx, `SELECT camera, setting, night, width, height, hot, rate, pixels FROM hot ORDER BY camera, setting`) {
		var m sensor.HotMap
		var pixels []byte
		if err := scan(&m.Camera, &m.Setting, &m.Night, &m.Width, &m.Height, &m.All, &m.Rate, &pixels); err != nil {
			return nil, err
		}
		if m.Pixels, err = unpacked(pixels); err != nil {
			return nil, err
		}
		list = append(list, m)
	}
	return list, nil
}

// packedSize is that of one pixel: column and row of 16 bits each, a rate of 32.
const packedSize = 8

// packed leaves out what lies beyond 16 bits, where no sensor reaches.
func packed(pixels []sensor.HotPixel) []byte {
	out := make([]byte, 0, packedSize*len(pixels))
	for _, p := range pixels {
		if max(p.X, p.Y) > math.MaxUint16 {
			continue
		}
		out = binary.LittleEndian.AppendUint16(out, uint16(p.X))
		out = binary.LittleEndian.AppendUint16(out, uint16(p.Y))
		out = binary.LittleEndian.AppendUint32(out, math.Float32bits(float32(p.Rate)))
	}
	return out
}

func unpacked(text []byte) ([]sensor.HotPixel, error) {
	if len(text)%packedSize != 0 {
		return nil, fmt.Errorf("%w: a map of hot pixels", errDamaged)
	}
	pixels := make([]sensor.HotPixel, 0, len(text)/packedSize)
	for p := range slices.Chunk(text, packedSize) {
		pixels = append(pixels, sensor.HotPixel{X: int(binary.LittleEndian.Uint16(p)), Y: int(binary.LittleEndian.Uint16(p[2:])),
			Rate: float64(math.Float32frombits(binary.LittleEndian.Uint32(p[4:])))})
	}
	return pixels, nil
}
