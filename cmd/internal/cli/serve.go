package cli

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/spf13/cobra"
	"golang.org/x/sync/errgroup"

	"sheetwash/api"
	"sheetwash/api/blobs"
	"sheetwash/api/jobs"
	"sheetwash/api/problem"
	"sheetwash/api/store"
	"sheetwash/cmd/internal/config"
)

func newServe(s *streams) *cobra.Command {
	var file string
	var given config.Config
	var withDemo bool
	c := &cobra.Command{
		Use:   "serve",
		Short: "Answer over HTTP: uploads, analyses, results for dashboards",
		Args:  arguments(0, 0, "no argument"),
		RunE: func(c *cobra.Command, _ []string) error {
			cfg, err := config.Load(file, s.env)
			if err != nil {
				return usage(err)
			}
			overrideServe(c, &cfg, given)
			if err := cfg.Validate(); err != nil {
				return usage(err)
			}
			return s.serve(c.Context(), cfg, withDemo)
		},
	}
	f := c.Flags()
	f.StringVar(&file, "config", "", "read settings from this YAML `FILE`")
	f.StringVar(&given.Listen, "listen", "", "`ADDRESS` of the service (default 127.0.0.1:8080)")
	f.StringVar(&given.Metrics, "metrics", "", "loopback `ADDRESS` of the metrics, or off (default 127.0.0.1:9180)")
	f.StringVar(&given.Data, "data", "", "`FOLDER` of records and blobs (default sheetwash-data)")
	f.StringVar(&given.Bucket, "bucket", "", "`URL` of an S3-compatible store for blobs")
	f.BoolVar(&given.Published, "published", false, "published seasons are readable without a key")
	f.IntVar(&given.Workers, "workers", 0, "jobs at once in this process (default one per processor)")
	f.StringVar(&given.Log, "log", "", "`LEVEL` of the log: debug, info, warn or error (default info)")
	f.BoolVar(&withDemo, "demo", false, "load the invented demo season and analyse it")
	describe(c, "  sheetwash serve --demo",
		`Listens on this machine alone unless told otherwise, and needs no set-up: records
and files are in one folder. On another address it asks every caller for a key,
and does not start before there is one (see sheetwash key --help).

The page /docs of the service shows every route.`)
	return c
}

// overrideServe puts the flags that were given over the other settings.
func overrideServe(c *cobra.Command, cfg *config.Config, given config.Config) {
	set := map[string]func(){
		"listen": func() { cfg.Listen = given.Listen }, "metrics": func() { cfg.Metrics = given.Metrics },
		"data": func() { cfg.Data = given.Data }, "bucket": func() { cfg.Bucket = given.Bucket },
		"published": func() { cfg.Published = given.Published }, "workers": func() { cfg.Workers = given.Workers },
		"log": func() { cfg.Log = given.Log },
	}
	for name, do := range set {
		if c.Flags().Changed(name) {
			do()
		}
	}
}

// serve opens what the service works with, answers until ctx ends, and closes
// everything in the opposite order.
func (s *streams) serve(ctx context.Context, cfg config.Config, withDemo bool) (err error) {
	level, err := cfg.Level()
	if err != nil {
		return usage(err)
	}
	log := slog.New(slog.NewJSONHandler(s.err, &slog.HandlerOptions{Level: level}))
	if err := os.MkdirAll(cfg.Temp(), 0o700); err != nil {
		return onDisk(err)
	}
	records, files, err := openPlaces(ctx, cfg, log)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, files.Close(), records.Close()) }()
	if err := freshTemp(cfg); err != nil {
		return onDisk(err)
	}
	access, err := accessOf(ctx, cfg, records)
	if err != nil {
		return err
	}
	svc, err := s.assemble(cfg, records, files, log, access)
	if err != nil {
		return err
	}
	return svc.run(ctx, s, withDemo)
}

// openPlaces opens records and blobs, for a process that serves or works. One such
// process uses a folder at a time.
func openPlaces(ctx context.Context, cfg config.Config, log *slog.Logger) (*store.Store, blobs.Blobs, error) {
	where := store.Config{PostgresDSN: string(cfg.Database)}
	if cfg.Database == "" {
		where = store.Config{SQLitePath: cfg.Records(), Exclusive: true}
	}
	records, err := openStore(ctx, where)
	if err != nil {
		return nil, nil, err
	}
	for _, w := range records.Warnings() {
		log.WarnContext(ctx, "database", "warning", w)
	}
	var files blobs.Blobs
	if cfg.Bucket != "" {
		files, err = blobs.OpenBucket(ctx, cfg.Bucket)
	} else {
		files, err = blobs.OpenFiles(cfg.Blobs())
	}
	if err != nil {
		return nil, nil, errors.Join(fmt.Errorf("open blobs: %w", err), records.Close())
	}
	return records, files, nil
}

// accessOf decides whether callers need keys: on the loopback address not before
// there is one, and elsewhere always.
func accessOf(ctx context.Context, cfg config.Config, records *store.Store) (api.Access, error) {
	a := api.Access{Published: cfg.Published, Hosts: cfg.Hosts, Origins: cfg.Origins}
	a.Open = config.Loopback(cfg.Listen)
	if a.Open {
		return a, nil
	}
	some, err := api.AnyKey(ctx, records, time.Now())
	if err == nil && !some {
		err = usage(fmt.Errorf("listening on %s would let everybody in: make a key first (sheetwash key --help), or listen on 127.0.0.1", cfg.Listen))
	}
	return a, err
}

// freshTemp removes the temporary files that a killed process left, where no other
// can be at work.
func freshTemp(cfg config.Config) error {
	if cfg.Database != "" {
		return nil
	}
	entries, err := os.ReadDir(cfg.Temp())
	for _, e := range entries {
		err = errors.Join(err, os.RemoveAll(filepath.Join(cfg.Temp(), e.Name())))
	}
	return err
}

// assembled is the service, ready to run.
type assembled struct {
	cfg   config.Config
	api   *api.Server
	queue *jobs.Queue
	log   *slog.Logger
	store *store.Store
	demo  *demoLoad
}

// assemble connects the parts.
func (s *streams) assemble(cfg config.Config, records *store.Store, files blobs.Blobs, log *slog.Logger, access api.Access) (*assembled, error) {
	b, l := thisBuild(), cfg.Limits
	science, err := engineOf(cfg, records, files)
	if err != nil {
		return nil, err
	}
	meters := newJobMeters()
	queue, err := jobs.New(jobs.Config{
		Store: records, Blobs: files, Work: science.Work(), Workers: cfg.Workers, Alone: records.Dialect() == store.SQLite,
		Log: quieter(log), Observe: meters.observe,
	})
	if err != nil {
		return nil, err
	}
	registry := prometheus.NewRegistry()
	meters.register(registry, queue, cfg.Data)
	if access.Open { // for one person on their own machine
		unlimited(&l)
	}
	loaded := newDemoLoad()
	server, err := api.New(api.Options{
		Store: records, Blobs: files, Jobs: bounded{queue, cfg.Limits.QueuedJobs}, Engine: science, Limits: l, Access: access,
		Build: api.Build{Version: b.Version, Revision: b.Revision}, Log: log, Temp: cfg.Temp(), Meters: registry,
		Ready: []api.ReadyCheck{{Name: "queue", Check: fetching(queue)}, {Name: "disk", Check: roomOn(cfg.Data)}, {Name: "demo", Check: loaded.check}},
	})
	if err != nil {
		return nil, usage(err)
	}
	return &assembled{cfg: cfg, api: server, queue: queue, log: log, store: records, demo: loaded}, nil
}

// bounded is the queue, which takes no more when it is full.
type bounded struct {
	*jobs.Queue
	most int
}

// Submit enqueues an analysis, or says that the queue is full.
func (b bounded) Submit(ctx context.Context, tx *store.Tx, a store.Analysis) error {
	h, err := b.Health(ctx)
	if err != nil {
		return err
	}
	if b.most > 0 && h.Waiting >= b.most {
		return problem.New(problem.QueueFull, "%d jobs wait", h.Waiting)
	}
	return b.Queue.Submit(ctx, tx, a)
}

// quieter is a log without what is only of interest where everything is.
func quieter(log *slog.Logger) *slog.Logger {
	if log.Enabled(context.Background(), slog.LevelDebug) {
		return log
	}
	return slog.New(warnings{log.Handler()})
}

// warnings lets warnings and errors through.
type warnings struct{ slog.Handler }

func (w warnings) Enabled(ctx context.Context, l slog.Level) bool {
	return l >= slog.LevelWarn && w.Handler.Enabled(ctx, l)
}

func (w warnings) WithAttrs(a []slog.Attr) slog.Handler { return warnings{w.Handler.WithAttrs(a)} }

func (w warnings) WithGroup(name string) slog.Handler { return warnings{w.Handler.WithGroup(name)} }

// unlimited takes away the limits of rate that nobody has set.
func unlimited(l *api.Limits) {
	d := api.DefaultLimits()
	for _, r := range []struct{ now, usual *float64 }{
		{&l.ReadsPerSecond, &d.ReadsPerSecond}, {&l.WritesPerSecond, &d.WritesPerSecond}, {&l.AnonymousPerSecond, &d.AnonymousPerSecond},
	} {
		if *r.now == *r.usual {
			*r.now = 0
		}
	}
}

// run answers until ctx ends, then drains: requests first, jobs after them.
func (a *assembled) run(ctx context.Context, s *streams, withDemo bool) error {
	listener, err := net.Listen("tcp", a.cfg.Listen)
	if err != nil {
		return conflict(err)
	}
	if err := a.queue.Start(context.WithoutCancel(ctx)); err != nil {
		return errors.Join(err, listener.Close())
	}
	g, ctx := errgroup.WithContext(ctx)
	g.Go(func() error { return a.api.Serve(ctx, listener) })
	if a.cfg.Metrics != "off" {
		metrics, err := net.Listen("tcp", a.cfg.Metrics)
		if err != nil {
			a.log.Warn("no metrics", "err", err)
		} else {
			g.Go(func() error { return a.api.ServeMetrics(ctx, metrics) })
			s.say("Metrics at http://%s/metrics", metrics.Addr())
		}
	}
	if withDemo {
		g.Go(func() error { return a.loadDemo(ctx, "http://"+listener.Addr().String(), s) })
	} else {
		a.demo.done()
	}
	s.say("Listening on http://%s, pages for people; the routes for programs at http://%s/docs", listener.Addr(), listener.Addr())
	err = g.Wait()
	left, cancel := context.WithTimeout(context.WithoutCancel(ctx), a.cfg.Limits.DrainTime)
	defer cancel()
	return errors.Join(err, a.queue.Stop(left))
}

// fetching is the check that the queue was asked for work in the last minute.
func fetching(q *jobs.Queue) func(context.Context) error {
	return func(ctx context.Context) error {
		h, err := q.Health(ctx)
		if err == nil && time.Since(h.Fetched) > time.Minute {
			err = errors.New("the queue was not asked for work")
		}
		return err
	}
}
