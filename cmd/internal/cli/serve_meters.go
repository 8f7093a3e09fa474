package cli

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"sheetwash/api/jobs"
)

// jobMeters count the jobs of this process.
type jobMeters struct{ wait, run *prometheus.HistogramVec }

func newJobMeters() *jobMeters {
	labels := []string{"kind", "outcome"}
	buckets := []float64{.01, .1, .5, 2, 10, 60, 300}
	return &jobMeters{
		wait: prometheus.NewHistogramVec(prometheus.HistogramOpts{Name: "sheetwash_job_wait_seconds", Help: "Seconds that a job waited.", Buckets: buckets}, labels),
		run:  prometheus.NewHistogramVec(prometheus.HistogramOpts{Name: "sheetwash_job_run_seconds", Help: "Seconds that an attempt at a job took.", Buckets: buckets}, labels),
	}
}

func (m *jobMeters) observe(o jobs.Observed) {
	m.wait.WithLabelValues(o.Kind, o.Outcome).Observe(o.Wait.Seconds())
	m.run.WithLabelValues(o.Kind, o.Outcome).Observe(o.Run.Seconds())
}

// register adds the counts, the state of the queue and the free disk.
func (m *jobMeters) register(r *prometheus.Registry, q *jobs.Queue, folder string) {
	gauge := func(name, help string, value func() float64) prometheus.Collector {
		return prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: name, Help: help}, value)
	}
	health := func(pick func(jobs.Health) float64) func() float64 {
		return func() float64 {
			ctx, cancel := context.WithTimeout(context.Background(), time.Second)
			defer cancel()
			h, err := q.Health(ctx)
			if err != nil {
				return -1 // not known
			}
			return pick(h)
		}
	}
	r.MustRegister(m.wait, m.run,
		gauge("sheetwash_queue_waiting", "Jobs that could run now; -1: not known.", health(func(h jobs.Health) float64 { return float64(h.Waiting) })),
		gauge("sheetwash_queue_age_seconds", "Seconds that the oldest job has waited; -1: not known.", health(func(h jobs.Health) float64 { return h.OldestAge.Seconds() })),
		gauge("sheetwash_disk_free_bytes", "Free bytes where the data are; -1: not known.", func() float64 {
			free, _, err := diskOf(folder)
			if err != nil {
				return -1
			}
			return float64(free)
		}),
	)
}

// roomOn is the check that the disk has room: 512 MiB, and 5 %.
func roomOn(folder string) func(context.Context) error {
	return func(context.Context) error {
		free, size, err := diskOf(folder)
		if errors.Is(err, errors.ErrUnsupported) {
			return nil
		}
		if err == nil && (free < 512<<20 || free < size/20) {
			err = fmt.Errorf("%d of %d bytes are free", free, size)
		}
		return err
	}
}
