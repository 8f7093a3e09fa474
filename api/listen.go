package api

import (
	"context"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"net/http/pprof"
	"slices"
	"sync"
	"time"
)

// drain tells the parts of a server that it is stopping.
type drain struct {
	once *sync.Once
	ch   chan struct{}
}

func newDrain() drain { return drain{&sync.Once{}, make(chan struct{})} }

func (d drain) begin() { d.once.Do(func() { close(d.ch) }) }

func (d drain) begun() bool {
	select {
	case <-d.ch:
		return true
	default:
		return false
	}
}

// Serve answers on a listener until ctx ends. Then it is no longer ready, takes no
// new connections, ends event streams, lets the other requests finish for the drain
// time, and cuts those that are left.
func (s *Server) Serve(ctx context.Context, l net.Listener) error {
	h := s.httpServer(s)
	h.ConnContext = inContext
	failed := make(chan error, 1)
	go func() { failed <- h.Serve(connections{l}) }()
	select {
	case err := <-failed:
		return err
	case <-ctx.Done():
	}
	s.drain.begin()
	left, cancel := context.WithTimeout(context.WithoutCancel(ctx), s.limits.DrainTime)
	defer cancel()
	if err := h.Shutdown(left); err != nil {
		s.log.WarnContext(ctx, "requests were cut off at the end of the drain time", "err", err)
		_ = h.Close() // what is left ends with the process
	}
	if err := <-failed; !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}

// ServeMetrics answers what the service counts about itself, and its profiles below
// /debug/pprof/, until ctx ends. The listener is one of the loopback address.
func (s *Server) ServeMetrics(ctx context.Context, l net.Listener) error {
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", s.Metrics())
	mux.HandleFunc("GET /debug/pprof/", pprof.Index)
	mux.HandleFunc("GET /debug/pprof/profile", pprof.Profile)
	mux.HandleFunc("GET /debug/pprof/trace", pprof.Trace)
	h := s.httpServer(atHome(mux))
	h.ReadTimeout, h.WriteTimeout = 10*time.Second, 90*time.Second
	stop := context.AfterFunc(ctx, func() { _ = h.Close() }) // nothing is lost with it
	defer stop()
	if err := h.Serve(l); !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}

// atHome answers to the names of the loopback address alone, so that a page whose
// name is pointed at this machine reads nothing.
func atHome(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !slices.Contains(loopbackNames, hostName(r.Host)) {
			http.Error(w, "this address answers to localhost", http.StatusForbidden)
			return
		}
		h.ServeHTTP(w, r)
	})
}

// httpServer is built by hand: gin's own has no time limits. There is no read or
// write limit for all routes, which would cut streams; each route sets its own.
func (s *Server) httpServer(h http.Handler) *http.Server {
	return &http.Server{
		Handler:           h,
		ReadHeaderTimeout: s.limits.HeaderTime,
		IdleTimeout:       s.limits.IdleTime,
		MaxHeaderBytes:    s.limits.HeaderBytes,
		ErrorLog:          slog.NewLogLogger(s.log.Handler(), slog.LevelDebug),
	}
}
