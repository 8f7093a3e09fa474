package api

import (
	"net/http"
	"regexp"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"
)

// Names under which a request carries what middleware found.
const (
	keyRequest = "request_id"
	keyCode    = "code"
	keyCaller  = "caller"
)

// proper is what a request id from outside may look like.
var proper = regexp.MustCompile(`^[A-Za-z0-9._-]{8,64}$`)

// traceParent is the form of the W3C header.
var traceParent = regexp.MustCompile(`^00-([0-9a-f]{32})-[0-9a-f]{16}-[0-9a-f]{2}$`)

// identified gives the request its id: the caller's X-Request-Id, else the trace
// of traceparent, else a new one.
func (s *Server) identified(c *gin.Context) {
	id := identify(c.Request)
	c.Set(keyRequest, id)
	c.Header("X-Request-Id", id)
	c.Next()
}

func identify(r *http.Request) string {
	if id := r.Header.Get("X-Request-Id"); id != "" && proper.MatchString(id) {
		return id
	}
	if trace := r.Header.Get("Traceparent"); trace != "" {
		if m := traceParent.FindStringSubmatch(trace); m != nil {
			return m[1]
		}
	}
	return uuid.NewString()
}

func requestID(c *gin.Context) string { return c.GetString(keyRequest) }
