package api

import (
	"encoding/json"
	"errors"
	"math"
	"net/http"
	"runtime/debug"
	"strconv"

	"github.com/gin-gonic/gin"

	"sheetwash/api/problem"
)

// handle is the only place where an error meets HTTP.
func (s *Server) handle(f func(*gin.Context) error) gin.HandlerFunc {
	return func(c *gin.Context) {
		if err := f(c); err != nil {
			s.fail(c, err)
		}
	}
}

// fail answers with a problem, unless an answer has begun: then the connection is
// cut, so that nobody takes the part for the whole.
func (s *Server) fail(c *gin.Context, err error) {
	e := problem.From(err)
	d := e.Details(c.Request.URL.Path, requestID(c))
	if d.Status == http.StatusInternalServerError || errors.Is(err, errPanic) {
		s.log.ErrorContext(c.Request.Context(), "request failed", "request_id", d.RequestID, "route", routeName(c), "err", err)
	}
	c.Set(keyCode, string(d.Code))
	if c.Writer.Written() {
		c.Abort()
		panic(http.ErrAbortHandler)
	}
	for _, name := range []string{"Content-Encoding", "Content-Length", "Row-Count", "ETag", "Cache-Control", "Content-Disposition"} {
		c.Writer.Header().Del(name)
	}
	if wantsPage(c.Request) {
		s.failPage(c, e, d)
		return
	}
	c.Header("Content-Type", problem.MediaType)
	c.Header("Cache-Control", "no-store")
	if wait := e.Wait(); wait > 0 {
		c.Header("Retry-After", strconv.Itoa(int(math.Ceil(wait.Seconds()))))
	}
	if d.Code == problem.NotSignedIn {
		c.Header("WWW-Authenticate", `Bearer realm="sheetwash"`)
	}
	if e.Allow != "" {
		c.Header("Allow", e.Allow)
	}
	body, err := json.Marshal(d)
	if err != nil {
		panic(http.ErrAbortHandler)
	}
	c.Abort()
	c.Status(d.Status)
	_, _ = c.Writer.Write(append(body, '\n')) // a caller who has gone needs no answer
}

// errPanic marks an error that was a panic.
var errPanic = errors.New("panic")

// recovered turns a panic of a handler into an internal error.
func (s *Server) recovered(c *gin.Context) {
	defer func() {
		switch r := recover(); r {
		case nil:
		case http.ErrAbortHandler:
			panic(r)
		default:
			s.log.ErrorContext(c.Request.Context(), "panic", "request_id", requestID(c), "panic", r, "stack", string(debug.Stack()))
			s.fail(c, problem.Because(errPanic, problem.Internal, "a fault of the service"))
		}
	}()
	c.Next()
}
