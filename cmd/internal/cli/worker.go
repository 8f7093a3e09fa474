package cli

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"

	"github.com/spf13/cobra"

	"sheetwash/api/blobs"
	"sheetwash/api/engine"
	"sheetwash/api/jobs"
	"sheetwash/api/store"
	"sheetwash/cmd/internal/config"
	"sheetwash/ingest"
)

func newWorker(s *streams) *cobra.Command {
	var p location
	c := &cobra.Command{
		Use:   "worker",
		Short: "Work on the analyses of a service, on this machine",
		Args:  arguments(0, 0, "no argument"),
		RunE: func(c *cobra.Command, _ []string) error {
			settings, err := p.load(s)
			if err != nil {
				return err
			}
			return s.work(c.Context(), settings, computing)
		},
	}
	p.flags(c)
	describe(c, `  sheetwash worker --config sheetwash.yaml`,
		`Takes jobs from the queue of a service until it is stopped: any number of
workers, on any machines, share a PostgreSQL (database, or database_file) and a
bucket. A signal lets the jobs that run end, for 25 s at most; the others
return to the queue. On a data folder the service does the work itself, and a
worker is turned away while it runs (exit code 7).`)
	return c
}

// computing is the work of the jobs: what analyze does, for the service.
func computing(c config.Config, records *store.Store, kept blobs.Blobs) (jobs.Work, error) {
	e, err := engineOf(c, records, kept)
	if err != nil {
		return jobs.Work{}, err
	}
	return e.Work(), nil
}

// engineOf is the engine of a process that serves or works, with the limits of
// uploads.
func engineOf(c config.Config, records *store.Store, kept blobs.Blobs) (*engine.Engine, error) {
	l := c.Limits
	return engine.New(engine.Config{
		Store: records, Blobs: kept, Program: thisProgram(), Workers: c.Workers, MaxRows: l.Rows, Temp: c.Temp(),
		Limits: ingest.Limits{Members: l.UploadFiles, Unpacked: l.ExpandedBytes, Ratio: l.ExpandRatio, Columns: l.Columns, Cell: l.FieldBytes, Readings: l.Rows},
	})
}

// work works on jobs until the context ends, then drains.
func (s *streams) work(ctx context.Context, c config.Config, plug func(config.Config, *store.Store, blobs.Blobs) (jobs.Work, error)) (err error) {
	level, err := c.Level()
	if err != nil {
		return usage(err)
	}
	log := slog.New(slog.NewJSONHandler(s.err, &slog.HandlerOptions{Level: level}))
	if err := os.MkdirAll(c.Temp(), 0o700); err != nil {
		return onDisk(err)
	}
	records, kept, err := openPlaces(ctx, c, log)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, kept.Close(), records.Close()) }()
	work, err := plug(c, records, kept)
	if err != nil {
		return err
	}
	queue, err := jobs.New(jobs.Config{Store: records, Blobs: kept, Work: work, Workers: c.Workers, Alone: c.Database == "", Log: log})
	if err != nil {
		return err
	}
	running := context.WithoutCancel(ctx) // a signal drains, it does not cut
	if err := queue.Start(running); err != nil {
		return err
	}
	log.InfoContext(ctx, "worker started", "records", records.Dialect().String(), "version", Version)
	<-ctx.Done()
	log.InfoContext(running, "worker stops", "cause", fmt.Sprint(context.Cause(ctx)))
	drain, cancel := context.WithTimeout(running, c.Limits.DrainTime)
	defer cancel()
	return queue.Stop(drain)
}
