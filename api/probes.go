package api

import (
	"context"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"sheetwash/api/problem"
	"sheetwash/api/wire"
)

// healthz says that the process answers.
//
//	@Summary  The process answers
//	@Tags     operation
//	@Produce  json
//	@Success  200  {object}  wire.Health
//	@Router   /healthz [get]
func (s *Server) healthz(c *gin.Context) error {
	return s.give(c, answer{status: http.StatusOK, body: wire.Health{Status: "alive", Version: s.build.Version}})
}

// readyTime is how long one check of being ready may take.
const readyTime = time.Second

// readyz says whether requests would be answered, and if not, what is missing.
//
//	@Summary      Requests would be answered
//	@Description  Asks database, blobs, free disk and queue. An answer of 503 names the check that failed.
//	@Tags         operation
//	@Produce      json
//	@Success      200  {object}  wire.Health
//	@Failure      503  {object}  problem.Details
//	@Router       /readyz [get]
func (s *Server) readyz(c *gin.Context) error {
	if s.drain.begun() {
		return problem.New(problem.NotReady, "stopping")
	}
	checks := append([]ReadyCheck{{"database", s.store.Ping}, {"blobs", s.blobs.Check}}, s.ready...)
	for _, check := range checks {
		ctx, cancel := context.WithTimeout(c.Request.Context(), readyTime)
		err := check.Check(ctx)
		cancel()
		if err != nil {
			return problem.Because(err, problem.NotReady, "not ready: %s", check.Name)
		}
	}
	return s.give(c, answer{status: http.StatusOK, body: wire.Health{Status: "ready", Version: s.build.Version}})
}
