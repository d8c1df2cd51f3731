package ledger

import (
	"context"
	"database/sql"

	"fitsqa/internal/sensor"
	"fitsqa/internal/stats"
)

// Remembered gives the latest figure of every camera, setting and metric.
func (l *Ledger) Remembered(ctx context.Context) (list []sensor.Remembered, err error) {
	defer func() { err = l.explain(err) }()
	for scan := range l.rows(ctx, `SELECT camera, setting, metric, value, uncertainty, frames, max(night)
		FROM figure GROUP BY camera, setting, metric ORDER BY camera, setting, metric`) { // a bare column is that of the row with the max
		var r sensor.Remembered
		var value float64
		var uncertainty sql.NullFloat64
		var frames int
		if err := scan(&r.Camera, &r.Setting, &r.Metric, &value, &uncertainty, &frames, &r.Night); err != nil {
			return nil, err
		}
		r.Value = stats.Known(value, number(uncertainty), frames)
		list = append(list, r)
	}
	return list, nil
}
