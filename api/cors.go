package api

import (
	"context"
	"net/http"
	"slices"

	"github.com/gin-gonic/gin"

	"sheetwash/api/problem"
	"sheetwash/api/store"
)

// Headers that pages of other origins may send and see.
const (
	corsSend = "Authorization, Content-Type, Idempotency-Key, If-Match, If-None-Match, Last-Event-ID, Prefer, Traceparent, X-Request-Id"
	corsSee  = "Content-Disposition, ETag, Idempotency-Replayed, Link, Location, Preference-Applied, Retry-After, Row-Count, X-Request-Id"
)

// preflight answers the question of a browser whether a page may call. It carries
// no key, so that an origin counts that any key names; the call itself must come
// with a key that names it.
func (s *Server) preflight(c *gin.Context) {
	origin := c.GetHeader("Origin")
	known, err := s.originKnown(c, origin)
	if err != nil {
		s.fail(c, err)
		return
	}
	if known {
		s.share(c, origin)
		c.Header("Access-Control-Allow-Methods", "GET, HEAD, POST, PATCH, DELETE")
		c.Header("Access-Control-Allow-Headers", corsSend)
		c.Header("Access-Control-Max-Age", "600")
	}
	c.AbortWithStatus(http.StatusNoContent)
}

func (s *Server) share(c *gin.Context, origin string) {
	c.Header("Access-Control-Allow-Origin", origin)
	c.Header("Access-Control-Expose-Headers", corsSee)
	c.Header("Cross-Origin-Resource-Policy", "cross-origin")
}

// originKnown reports whether the operator or a key that is valid names an origin.
func (s *Server) originKnown(c *gin.Context, origin string) (bool, error) {
	if origin == "" || slices.Contains(s.origins.allowed, origin) {
		return origin != "", nil
	}
	known, err := s.callers.origins.get(func() (map[string]bool, error) { return s.keyOrigins(c.Request.Context()) })
	return known[origin], err
}

// keyOrigins lists the origins that valid keys name.
func (s *Server) keyOrigins(ctx context.Context) (map[string]bool, error) {
	out := map[string]bool{}
	for page := (store.Page{Limit: 1000}); ; {
		l, err := s.store.Keys(ctx, store.Everything, page)
		if err != nil {
			return nil, err
		}
		for _, k := range l.Rows {
			for _, o := range k.Origins {
				out[o] = out[o] || valid(k, s.now())
			}
		}
		if page.After = l.Next; !l.More {
			return out, nil
		}
	}
}

// shared decides about the origin of a request whose caller is known: a key that
// names origins works from these alone.
func (s *Server) shared(c *gin.Context, who *caller) error {
	origin := c.GetHeader("Origin")
	if origin == "" || sameOrigin(c.Request, origin) {
		return nil
	}
	switch {
	case slices.Contains(s.origins.allowed, origin), slices.Contains(who.origins, origin):
		s.share(c, origin)
		return nil
	case who.role != nobody && who.id != operator:
		return problem.New(problem.NotAllowed, "this key may not be used from pages of %q", clip(origin))
	}
	return nil // without a header that shares it, the browser keeps the answer from the page
}

func sameOrigin(r *http.Request, origin string) bool {
	return origin == "http://"+r.Host || origin == "https://"+r.Host
}
