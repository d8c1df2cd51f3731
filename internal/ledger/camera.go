package ledger

import (
	"context"
	"database/sql"

	"fitsqa/internal/sensor"
	"fitsqa/internal/stats"
)

// Remembered gives the latest figure of every camera, setting and metric.
func (l *Ledger) Remembered(ctx context.Context) ([]sensor.Remembered, error) {
	list, err := l.remembered(ctx)
	return list, l.explain(err)
}

func (l *Ledger) remembered(ctx context.Context) ([]sensor.Remembered, error) {
	rows, err := l.db.QueryContext(ctx, `SELECT camera, setting, metric, value, uncertainty, frames, max(night)
		FROM figure GROUP BY camera, setting, metric ORDER BY camera, setting, metric`) // a bare column is that of the row with the max
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var list []sensor.Remembered
	for rows.Next() {
		var r sensor.Remembered
		var value float64
		var uncertainty sql.NullFloat64
		var frames int
		if err := rows.Scan(&r.Camera, &r.Setting, &r.Metric, &value, &uncertainty, &frames, &r.Night); err != nil {
			return nil, err
		}
		r.Value = stats.Known(value, number(uncertainty), frames)
		list = append(list, r)
	}
	return list, rows.Err()
}
