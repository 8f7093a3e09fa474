package store

import (
	"context"
	"fmt"

	"github.com/google/uuid"
)

// NewID returns a fresh UUIDv7, which sorts by the time it was made.
func NewID() string { return uuid.Must(uuid.NewV7()).String() }

// TreatmentID is the id of a treatment: the same for the same season and name.
func TreatmentID(seasonID, name string) string {
	return uuid.NewSHA1(uuid.NameSpaceOID, []byte(seasonID+"\x00"+name)).String()
}

// insertRows writes the rows of a new dataset.
func (t *Tx) insertRows(ctx context.Context, d Dataset, rows DatasetRows) error {
	type runName struct{ event, run string }
	runIDs := map[runName]string{}
	at := micros(d.CreatedAt)
	runs := batch{head: "INSERT INTO runs (id, season_id, event_id, dataset_id, event_name, run, simulator, started, started_at, plots, updated_at) VALUES ", width: 11}
	for _, r := range rows.Runs {
		r.ID = or(r.ID, NewID)
		runIDs[runName{r.Event, r.Run}] = r.ID
		runs.add(r.ID, d.SeasonID, orNull(d.EventID), d.ID, r.Event, r.Run, r.Simulator, r.Started, instantOf(r.Started), r.Plots, at)
	}
	plots := batch{head: "INSERT INTO plots (id, season_id, event_id, dataset_id, run_id, event_name, run, plot, treatment, treatment_id, block, excluded, exclude_reason, revision, updated_at) VALUES ", width: 15}
	for _, p := range rows.Plots {
		run := or(p.RunID, func() string { return runIDs[runName{p.Event, p.Run}] })
		plots.add(or(p.ID, NewID), d.SeasonID, orNull(d.EventID), d.ID, run, p.Event, p.Run, p.Plot, p.Treatment,
			TreatmentID(d.SeasonID, p.Treatment), p.Block, p.Excluded, p.ExcludeReason, 1, at)
	}
	calibrations := batch{head: "INSERT INTO calibrations (id, season_id, event_id, dataset_id, calibration, simulator, calibration_date, date_at, cans, updated_at) VALUES ", width: 10}
	for _, c := range rows.Calibrations {
		calibrations.add(or(c.ID, NewID), d.SeasonID, orNull(d.EventID), d.ID, c.Calibration, c.Simulator, c.Date, instantOf(c.Date), c.Cans, at)
	}
	for _, b := range []*batch{&runs, &plots, &calibrations} {
		if err := b.write(ctx, t); err != nil {
			return fmt.Errorf("write the rows of the dataset: %w", err)
		}
	}
	return nil
}

// batch is many rows for one table.
type batch struct {
	head  string // INSERT up to and with VALUES
	width int    // columns
	tail  string
	args  []any
}

func (b *batch) add(row ...any) { b.args = append(b.args, row...) }

// argumentsAtOnce keeps a statement below what both databases take (32,766 and
// 65,535).
const argumentsAtOnce = 10_000

// write inserts the rows, many with each statement.
func (b *batch) write(ctx context.Context, t *Tx) error {
	for rest := b.args; len(rest) > 0; {
		n := min(len(rest), argumentsAtOnce/b.width*b.width)
		q := statement{}
		q.add(b.head)
		for i := 0; i < n; i += b.width {
			if i > 0 {
				q.add(", ")
			}
			q.add("(?")
			for range b.width - 1 {
				q.add(", ?")
			}
			q.add(")")
		}
		q.add(b.tail)
		q.args = rest[:n]
		if _, err := t.exec(ctx, q); err != nil {
			return err
		}
		rest = rest[n:]
	}
	return nil
}

// useBlobs notes that a record names blobs; empty digests are left out.
func (t *Tx) useBlobs(ctx context.Context, owner string, digests []string) error {
	b := batch{head: "INSERT INTO blob_uses (digest, owner) VALUES ", width: 2, tail: " ON CONFLICT DO NOTHING"}
	for _, d := range digests {
		if d != "" {
			b.add(d, owner)
		}
	}
	if err := b.write(ctx, t); err != nil {
		return fmt.Errorf("note the blobs in use: %w", err)
	}
	return nil
}

// UnusedBlobs returns those of at most 1,000 digests that no record names.
func (r *Reader) UnusedBlobs(ctx context.Context, digests []string) ([]string, error) {
	q := statement{}
	q.add("SELECT DISTINCT digest FROM blob_uses WHERE ")
	q.in("digest", digests)
	used, err := all(ctx, r, q, func(scan scanner) (d string, err error) { return d, scan(&d) })
	if err != nil {
		return nil, fmt.Errorf("ask which blobs are in use: %w", err)
	}
	named := map[string]bool{}
	for _, d := range used {
		named[d] = true
	}
	unused := []string{}
	for _, d := range digests {
		if !named[d] {
			unused = append(unused, d)
		}
	}
	return unused, nil
}
