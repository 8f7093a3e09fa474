package api

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/prometheus/client_golang/prometheus"

	"sheetwash/api/blobs"
	"sheetwash/api/report"
	"sheetwash/api/store"
)

// Options are what a Server works with.
type Options struct {
	Store  *store.Store
	Blobs  blobs.Blobs
	Jobs   Jobs
	Engine Engine
	Limits Limits
	Access Access
	Build  Build
	Log    *slog.Logger         // nil: silent
	Temp   string               // folder for uploads while a request lasts; "": that of the system
	Ready  []ReadyCheck         // asked by /readyz, besides database and blobs
	Meters *prometheus.Registry // nil: one of its own
	Clock  func() time.Time     // nil: time.Now
}

// Access says who may come in.
type Access struct {
	Open      bool     // as long as there is no key, everybody who reaches the address is a manager. For the loopback address alone
	Published bool     // published seasons are readable without a key
	Hosts     []string // names under which an open server may be addressed, besides those of the loopback address
	Origins   []string // of pages that may call from a browser
}

// Build says which program answers.
type Build struct{ Version, Revision string }

// ReadyCheck is a condition of being ready.
type ReadyCheck struct {
	Name  string
	Check func(context.Context) error
}

// Server answers the requests of the service.
type Server struct {
	store  *store.Store
	blobs  blobs.Blobs
	jobs   Jobs
	engine Engine
	limits Limits
	access Access
	build  Build
	log    *slog.Logger
	temp   string
	ready  []ReadyCheck
	now    func() time.Time

	meters   *meters
	callers  *callers
	origins  *origins
	http     *gin.Engine
	drain    drain
	pages    *pages
	tables   tables
	analyses *analyses
	always   http.Header // of every answer
}

// New returns a server. The error names what its options lack.
func New(o Options) (*Server, error) {
	if o.Store == nil || o.Blobs == nil || o.Jobs == nil || o.Engine == nil {
		return nil, errors.New("a server needs store, blobs, jobs and engine")
	}
	s := &Server{
		store: o.Store, blobs: o.Blobs, jobs: o.Jobs, engine: o.Engine, limits: o.Limits, access: o.Access, build: o.Build,
		log: o.Log, temp: o.Temp, ready: o.Ready, now: o.Clock,
	}
	if s.log == nil {
		s.log = slog.New(slog.DiscardHandler)
	}
	if s.now == nil {
		s.now = time.Now
	}
	if o.Meters == nil {
		o.Meters = prometheus.NewRegistry()
	}
	s.meters = newMeters(o.Meters, o.Build)
	s.callers = newCallers(s.limits, s.now)
	s.drain = newDrain()
	s.tables, s.always = newTables(), always()
	s.pages, s.analyses = newPages(64<<20), newAnalyses()
	var err error
	if s.origins, err = newOrigins(o.Access); err != nil {
		return nil, err
	}
	s.http = s.router()
	return s, nil
}

// Handler answers the routes of the service.
func (s *Server) Handler() http.Handler { return s }

// tables are the descriptions of the result tables, by units and name.
type tables map[report.Units]map[string]report.Table

func newTables() tables {
	out := tables{}
	for _, u := range []report.Units{report.SI, report.US} {
		out[u] = map[string]report.Table{}
		for _, t := range report.Tables(u) {
			out[u][t.Name] = t
		}
	}
	return out
}

func (t tables) find(name string, u report.Units) (report.Table, bool) {
	found, ok := t[u][name]
	return found, ok
}
