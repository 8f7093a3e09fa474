package jobs

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"log/slog"
	"runtime"
	"sync"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/riverdriver/riverdatabasesql"
	"github.com/riverqueue/river/riverdriver/riversqlite"
	"github.com/riverqueue/river/rivertype"

	"sheetwash/api/blobs"
	"sheetwash/api/store"
)

// Config says what a Queue works with.
type Config struct {
	Store   *store.Store
	Blobs   blobs.Blobs    // swept of what no record names; nil: no sweeping
	Work    Work           // zero: submits only, works on nothing
	Workers int            // jobs at the same time in this process; 0: one per processor
	Alone   bool           // no other process works on this database: what runs at the start was left by a killed one
	Log     *slog.Logger   // nil: silent
	Observe func(Observed) // called after each attempt, from many goroutines; nil: nobody
	times   times
}

// times are the periods of the queue.
type times struct {
	timeout  time.Duration                   // of one attempt
	rescue   time.Duration                   // after which a running job counts as left by a killed worker
	maintain time.Duration                   // between looks for such jobs
	sweep    time.Duration                   // between sweeps
	cooldown time.Duration                   // least time between two fetches
	poll     time.Duration                   // between fetches of an idle queue
	idle     time.Duration                   // between those that reach the database, where all jobs come from this process
	retry    func(attempt int) time.Duration // before the attempt after the given one
}

// attempts is how often a job is tried.
const attempts = 5

// usual are the periods that docs/decisions/0006 gives the reasons for.
func usual(d store.Dialect) times {
	t := times{timeout: 60 * time.Second, rescue: 75 * time.Second, maintain: 5 * time.Second, sweep: time.Hour,
		cooldown: 5 * time.Millisecond, poll: 10 * time.Millisecond, idle: time.Second, retry: patience}
	if d == store.PostgreSQL {
		t.poll = 100 * time.Millisecond
	}
	return t
}

// patience lets a store of blobs be away for a minute and a half.
func patience(attempt int) time.Duration {
	waits := []time.Duration{time.Second, 5 * time.Second, 25 * time.Second, time.Minute}
	return waits[min(max(attempt, 1), len(waits))-1]
}

// Queue submits analyses and, with a Work, works on them.
type Queue struct {
	Config
	client *river.Client[*sql.Tx]
	gate   *gate
	stop   context.CancelFunc
	upkeep sync.WaitGroup
}

// New prepares a queue. Nothing runs before Start.
func New(c Config) (*Queue, error) {
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	if c.times.timeout == 0 {
		c.times = usual(c.Store.Dialect())
	}
	q := &Queue{Config: c, stop: func() {}, gate: &gate{}}
	if c.Alone {
		q.gate.idle = c.times.idle
	}
	settings := &river.Config{
		Logger:               slog.New(warnings{c.Log.Handler()}),
		MaxAttempts:          attempts,
		JobTimeout:           c.times.timeout,
		RescueStuckJobsAfter: 4 * c.times.rescue, // after ours
		RetryPolicy:          retries(c.times.retry),
		FetchCooldown:        c.times.cooldown,
		FetchPollInterval:    c.times.poll,
		PollOnly:             true,
	}
	if q.works() {
		if c.Workers == 0 {
			c.Workers = runtime.GOMAXPROCS(0)
		}
		settings.Workers = river.NewWorkers()
		river.AddWorker(settings.Workers, &datasetWorker{queue: q})
		river.AddWorker(settings.Workers, &foldWorker{queue: q})
		settings.Queues = map[string]river.QueueConfig{river.QueueDefault: {MaxWorkers: c.Workers}}
	}
	var err error
	q.client, err = river.NewClient[*sql.Tx](gatedDriver{driver(c.Store), q.gate}, settings)
	if err != nil {
		return nil, fmt.Errorf("prepare the job queue: %w", err)
	}
	return q, nil
}

// driver is the queue's view of the records.
func driver(s *store.Store) riverdriver.Driver[*sql.Tx] {
	if s.Dialect() == store.PostgreSQL {
		return riverdatabasesql.New(s.DB())
	}
	return riversqlite.New(s.DB())
}

func (q *Queue) works() bool { return q.Work.Dataset != nil && q.Work.Fold != nil }

// Submit enqueues the datasets of an analysis in the transaction that created it.
func (q *Queue) Submit(ctx context.Context, tx *store.Tx, a store.Analysis) error {
	jobs := make([]river.InsertManyParams, a.Total)
	for i := range jobs {
		jobs[i].Args = datasetArgs{a.ID, i}
	}
	if _, err := q.client.InsertManyTx(ctx, tx.SQL(), jobs); err != nil {
		return fmt.Errorf("enqueue the datasets of the analysis: %w", err)
	}
	tx.AfterCommit(q.gate.wake)
	return nil
}

// Start begins to work and returns at once. Ending ctx stops the work at once; to
// drain, call Stop.
func (q *Queue) Start(ctx context.Context) error {
	if !q.works() {
		return errors.New("start the job queue: it has no work")
	}
	if q.Alone {
		if err := q.rescue(ctx, 0); err != nil {
			return fmt.Errorf("take up what was left running: %w", err)
		}
	}
	if err := q.client.Start(ctx); err != nil {
		return fmt.Errorf("start the job queue: %w", err)
	}
	ctx, q.stop = context.WithCancel(ctx)
	q.upkeep.Go(func() { q.keepUp(ctx) })
	return nil
}

// Stop takes no new jobs and waits for the running ones until ctx ends; those that
// are left are cancelled and return to the queue.
func (q *Queue) Stop(ctx context.Context) error {
	q.stop()
	q.upkeep.Wait()
	err := q.client.Stop(ctx)
	if err == nil || ctx.Err() == nil {
		return err
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), recordLimit)
	defer cancel()
	if err := q.client.StopAndCancel(ctx); err != nil {
		return fmt.Errorf("stop the job queue: %w", err)
	}
	return nil
}

// retries is the queue's retry policy.
type retries func(attempt int) time.Duration

// NextRetry implements river.ClientRetryPolicy.
func (r retries) NextRetry(job *rivertype.JobRow) time.Time {
	return time.Now().Add(r(len(job.Errors) + 1))
}

// warnings lets through what the library warns of; it tells every five seconds how
// it is.
type warnings struct{ slog.Handler }

// Enabled implements slog.Handler.
func (w warnings) Enabled(ctx context.Context, level slog.Level) bool {
	return level >= slog.LevelWarn && w.Handler.Enabled(ctx, level)
}

// WithAttrs implements slog.Handler.
func (w warnings) WithAttrs(a []slog.Attr) slog.Handler { return warnings{w.Handler.WithAttrs(a)} }

// WithGroup implements slog.Handler.
func (w warnings) WithGroup(name string) slog.Handler { return warnings{w.Handler.WithGroup(name)} }
