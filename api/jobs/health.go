package jobs

import (
	"context"
	"fmt"
	"time"

	"sheetwash/api/store"
)

// Health is the state of the queue.
type Health struct {
	Waiting   int           // jobs that could run now
	Running   int           // jobs that some worker has
	OldestAge time.Duration // how long the oldest waiting job has waited
	Fetched   time.Time     // when this process last asked for jobs and was answered; zero: never
}

// Jobs that wait and run, and the seconds that the oldest has waited.
const (
	healthSQLite = `SELECT COUNT(CASE WHEN state = 'available' THEN 1 END), COUNT(CASE WHEN state = 'running' THEN 1 END),
    COALESCE(MAX(CASE WHEN state = 'available' THEN unixepoch('subsec') - unixepoch(scheduled_at, 'subsec') END), 0.0)
FROM river_job WHERE state IN ('available', 'running')`
	healthPostgres = `SELECT COUNT(CASE WHEN state = 'available' THEN 1 END), COUNT(CASE WHEN state = 'running' THEN 1 END),
    CAST(COALESCE(MAX(CASE WHEN state = 'available' THEN EXTRACT(EPOCH FROM clock_timestamp() - scheduled_at) END), 0) AS double precision)
FROM river_job WHERE state IN ('available', 'running')`
)

// Health asks the database for the state of the queue.
func (q *Queue) Health(ctx context.Context) (Health, error) {
	text := healthSQLite
	if q.Store.Dialect() == store.PostgreSQL {
		text = healthPostgres
	}
	var h Health
	var seconds float64
	if err := q.Store.ReadDB().QueryRowContext(ctx, text).Scan(&h.Waiting, &h.Running, &seconds); err != nil {
		return Health{}, fmt.Errorf("ask for the state of the queue: %w", err)
	}
	h.OldestAge = time.Duration(max(0, seconds) * float64(time.Second))
	if at := q.gate.fetched.Load(); at != 0 {
		h.Fetched = time.Unix(0, at)
	}
	return h, nil
}
