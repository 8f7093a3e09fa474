package api

import (
	"context"
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"sheetwash/api/problem"
)

// router builds the handler from the table of routes.
func (s *Server) router() *gin.Engine {
	gin.SetMode(gin.ReleaseMode)
	e := gin.New()
	e.HandleMethodNotAllowed = false // ours answers, see noRoute
	e.RedirectTrailingSlash = false
	e.UseRawPath = true
	e.UnescapePathValues = true
	_ = e.SetTrustedProxies(nil) // the address of a caller is that of the connection
	e.Use(s.identified, s.observed, s.recovered, s.secured, s.guarded)
	all := s.routes()
	for _, r := range all {
		chain := []gin.HandlerFunc{s.bounded(r), s.admitted(r), s.strict(r), s.handle(r.do)}
		e.Handle(r.method, r.path, chain...)
		if r.method == http.MethodGet && r.kind != stream {
			e.Handle(http.MethodHead, r.path, chain...) // net/http leaves the body out
		}
	}
	e.NoRoute(s.handle(noRoute(all)))
	return e
}

// noRoute tells an unknown address from an unknown method.
func noRoute(all []route) func(*gin.Context) error {
	return func(c *gin.Context) error {
		var methods []string
		for _, r := range all {
			if matches(r.path, c.Request.URL.Path) {
				methods = append(methods, r.method)
				if r.method == http.MethodGet && r.kind != stream {
					methods = append(methods, http.MethodHead)
				}
			}
		}
		if len(methods) == 0 {
			return problem.New(problem.NotFound, "there is nothing at this address; /v1/openapi.json lists what there is")
		}
		slices.Sort(methods)
		methods = slices.Compact(methods)
		e := problem.New(problem.MethodNotAllowed, "this address takes %s", strings.Join(methods, ", "))
		e.Allow = strings.Join(methods, ", ")
		return e
	}
}

// matches reports whether a path fits a template with :names and a last *name.
func matches(template, path string) bool {
	t, p := strings.Split(template, "/"), strings.Split(path, "/")
	for i, part := range t {
		if strings.HasPrefix(part, "*") {
			return len(p) >= i
		}
		if i >= len(p) || !strings.HasPrefix(part, ":") && part != p[i] || strings.HasPrefix(part, ":") && p[i] == "" {
			return false
		}
	}
	return len(t) == len(p)
}

// bounded sets the time in which a request must end. Bodies and answers that may
// be large are bounded while they flow, see flow.go.
func (s *Server) bounded(r route) gin.HandlerFunc {
	l := s.limits
	return func(c *gin.Context) {
		whole := l.JSONTime
		switch r.kind {
		case export, upload:
			whole = l.UploadTime
		case waits:
			whole = l.JSONTime + l.WaitTime
		case stream:
			whole = 0
		}
		rc := http.NewResponseController(c.Writer)
		// Where there is no connection, as in a test, the context alone bounds. A read
		// that runs out cancels the request, so that a stream has none.
		if whole == 0 {
			_ = rc.SetReadDeadline(time.Time{})
			c.Next()
			return
		}
		first := whole
		switch r.kind {
		case upload:
			first = l.StallTime
		case waits:
			first = l.JSONTime // see patient
		}
		_ = rc.SetReadDeadline(time.Now().Add(first))
		_ = rc.SetWriteDeadline(time.Now().Add(whole + l.StallTime))
		ctx, cancel := context.WithTimeout(c.Request.Context(), whole)
		defer cancel()
		c.Request = c.Request.WithContext(ctx)
		c.Next()
	}
}

// patient gives a request whose body has been read the time that its answer may be
// held back.
func (s *Server) patient(c *gin.Context) {
	_ = http.NewResponseController(c.Writer).SetReadDeadline(time.Now().Add(s.limits.JSONTime + s.limits.WaitTime)) // where there is no connection, the context alone bounds
}

// strict refuses parameters that the route does not have, and bodies where none
// is taken.
func (s *Server) strict(r route) gin.HandlerFunc {
	known := slices.Sorted(slices.Values(r.parameters))
	return func(c *gin.Context) {
		if err := refuseUnknown(c.Request, known); err != nil {
			s.fail(c, err)
		}
	}
}

func refuseUnknown(r *http.Request, known []string) error {
	values, err := parseQuery(r.URL.RawQuery)
	if err != nil {
		return err
	}
	for name := range values {
		if _, ok := slices.BinarySearch(known, name); !ok {
			return problem.New(problem.UnknownParameter, "there is no parameter %q here; there is %s", clip(name), listed(known))
		}
	}
	return nil
}

func listed(words []string) string {
	if len(words) == 0 {
		return "none"
	}
	return strings.Join(words, ", ")
}

// clip shortens what a caller sent before it is told back.
func clip(s string) string {
	s = strings.ToValidUTF8(s, "\uFFFD")
	if r := []rune(s); len(r) > 64 {
		return string(r[:63]) + "…"
	}
	return s
}

func routeName(c *gin.Context) string {
	if p := c.FullPath(); p != "" {
		return p
	}
	return "none"
}
