package api

import (
	"log/slog"
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"
)

// meters are what the service counts about itself. No label holds an id, a file
// name or a caller.
type meters struct {
	registry *prometheus.Registry
	seconds  *prometheus.HistogramVec
	inFlight prometheus.Gauge
	uploads  *prometheus.CounterVec
	bytes    prometheus.Counter
	refused  *prometheus.CounterVec
	streams  prometheus.Gauge
}

func newMeters(r *prometheus.Registry, b Build) *meters {
	m := &meters{
		registry: r,
		seconds: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name: "sheetwash_request_seconds", Help: "Seconds of a request, by route and status.",
			Buckets: []float64{.001, .005, .025, .1, .5, 2.5, 10, 60},
		}, []string{"method", "route", "status"}),
		inFlight: prometheus.NewGauge(prometheus.GaugeOpts{Name: "sheetwash_requests_in_flight", Help: "Requests being answered."}),
		uploads:  prometheus.NewCounterVec(prometheus.CounterOpts{Name: "sheetwash_uploads_total", Help: "Uploads, by outcome."}, []string{"outcome"}),
		bytes:    prometheus.NewCounter(prometheus.CounterOpts{Name: "sheetwash_upload_bytes_total", Help: "Bytes of uploads."}),
		refused:  prometheus.NewCounterVec(prometheus.CounterOpts{Name: "sheetwash_findings_refused_total", Help: "Findings that refused an upload, by code."}, []string{"code"}),
		streams:  prometheus.NewGauge(prometheus.GaugeOpts{Name: "sheetwash_event_streams", Help: "Open event streams."}),
	}
	build := prometheus.NewGauge(prometheus.GaugeOpts{
		Name: "sheetwash_build_info", Help: "1, with the version of the program.",
		ConstLabels: prometheus.Labels{"version": b.Version, "revision": b.Revision},
	})
	build.Set(1)
	r.MustRegister(m.seconds, m.inFlight, m.uploads, m.bytes, m.refused, m.streams, build,
		collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return m
}

// Metrics answers what the service counts about itself, for a listener of its
// own on the loopback address.
func (s *Server) Metrics() http.Handler {
	return promhttp.HandlerFor(s.meters.registry, promhttp.HandlerOpts{})
}

// observed counts and logs each request: route, status and time, never what a
// caller wrote into the address, the headers or the body.
func (s *Server) observed(c *gin.Context) {
	began := s.now()
	s.meters.inFlight.Inc()
	defer func() {
		s.meters.inFlight.Dec()
		took, status := s.now().Sub(began), c.Writer.Status()
		s.meters.seconds.WithLabelValues(method(c), routeName(c), strconv.Itoa(status)).Observe(took.Seconds())
		s.logRequest(c.Request, seen{
			id: requestID(c), method: method(c), route: routeName(c), status: status, code: c.GetString(keyCode),
			bytes: max(0, c.Writer.Size()), took: took, caller: whoName(c),
		})
	}()
	c.Next()
}

// seen is what the log tells of a request.
type seen struct {
	id, method, route, code, caller string
	status, bytes                   int
	took                            time.Duration
}

// logRequest writes the line of a request.
func (s *Server) logRequest(r *http.Request, q seen) {
	level := slog.LevelInfo
	if q.method == http.MethodGet && q.status < http.StatusBadRequest {
		level = slog.LevelDebug // a dashboard reads all day; the meters count it
	}
	if !s.log.Enabled(r.Context(), level) {
		return
	}
	s.log.LogAttrs(r.Context(), level, "request",
		slog.String("request_id", q.id), slog.String("method", q.method), slog.String("route", q.route),
		slog.Int("status", q.status), slog.String("code", q.code), slog.Int("bytes", q.bytes),
		slog.Float64("seconds", q.took.Round(time.Microsecond).Seconds()), slog.String("caller", q.caller), slog.String("address", address(r)))
}

// method is the request's method, so that no label grows with what callers invent.
func method(c *gin.Context) string {
	switch m := c.Request.Method; m {
	case http.MethodGet, http.MethodHead, http.MethodPost, http.MethodPatch, http.MethodDelete, http.MethodOptions, http.MethodPut:
		return m
	}
	return "other"
}
