package api

import (
	"context"
	"fmt"
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"sheetwash/api/problem"
	"sheetwash/api/store"
)

// pollTime is how often the store is asked for progress. The workers may be on
// other machines, so that nothing nearer knows it.
const pollTime = 200 * time.Millisecond

// getProgress streams the progress of an analysis.
//
//	@Summary      The progress of an analysis as server-sent events
//	@Description  Each event is named progress, has the number of the change as its id and {state, done, total, failed} as its data. A reader that lost the connection goes on after the event of Last-Event-ID. A comment comes every 15 s. The stream ends when the analysis is over.
//	@Tags         analyses
//	@Produce      text/event-stream
//	@Param        id             path    string  true   "id of the analysis"
//	@Param        Last-Event-ID  header  int     false  "number of the last event that was seen"
//	@Success      200  {string}  string
//	@Failure      404  {object}  problem.Details
//	@Router       /v1/analyses/{id}/events [get]
func (s *Server) getProgress(c *gin.Context) error {
	after, err := lastEvent(c.GetHeader("Last-Event-ID"))
	if err != nil {
		return err
	}
	if preference(acceptOf(c.Request), "text/event-stream") == 0 {
		return problem.New(problem.FormatNotOffered, "progress is offered as text/event-stream; /v1/analyses/%s has it as JSON", c.Param("id"))
	}
	if _, err := s.store.Analysis(c.Request.Context(), whoIs(c).scope, c.Param("id")); err != nil {
		return err
	}
	leave, err := s.callers.enter(whoIs(c), "event streams", func(b *bucket) *int { return &b.streams }, s.limits.Streams)
	if err != nil {
		return err
	}
	defer leave()
	return s.events(c, after)
}

func acceptOf(r *http.Request) string {
	if a := r.Header.Get("Accept"); a != "" {
		return a
	}
	return "*/*"
}

func lastEvent(header string) (int64, error) {
	if header == "" {
		return 0, nil
	}
	n, err := strconv.ParseInt(header, 10, 64)
	if err != nil || n < 0 {
		return 0, problem.New(problem.MalformedRequest, "Last-Event-ID %q is no number of an event", clip(header))
	}
	return n, nil
}

// events writes the changes of an analysis until it is over, the reader goes or the
// service stops.
func (s *Server) events(c *gin.Context, after int64) error {
	s.meters.streams.Inc()
	defer s.meters.streams.Dec()
	w := &eventWriter{w: c.Writer, rc: http.NewResponseController(c.Writer), limit: s.limits.StreamTime}
	c.Header("Content-Type", "text/event-stream")
	c.Header("Cache-Control", keepNever)
	c.Header("X-Accel-Buffering", "no")
	w.write("retry: 1000\n\n")
	beat, poll := time.NewTicker(s.limits.HeartbeatTime), time.NewTicker(pollTime)
	defer beat.Stop()
	defer poll.Stop()
	for w.err == nil {
		var over bool
		if after, over = s.newEvents(c.Request.Context(), whoIs(c).scope, c.Param("id"), after, w); over {
			return nil
		}
		select {
		case <-poll.C:
		case <-beat.C:
			w.write(": here\n\n")
		case <-s.drain.ch:
			return nil
		case <-c.Request.Context().Done():
			return nil
		}
	}
	return nil // the reader has gone
}

// newEvents writes what changed after an event, and reports whether nothing more
// will come. The state is read before the changes: what is over then has all of its
// changes written.
func (s *Server) newEvents(ctx context.Context, scope store.Scope, id string, after int64, w *eventWriter) (last int64, over bool) {
	const most = 500
	a, err := s.store.Analysis(ctx, scope, id)
	var list []store.ProgressEvent
	if err == nil {
		list, err = s.store.ProgressAfter(ctx, scope, id, after, most)
	}
	if err != nil {
		if ctx.Err() == nil {
			s.log.WarnContext(ctx, "progress not read; the reader will come back", "err", err)
		}
		return after, true
	}
	for _, e := range list {
		w.write(fmt.Sprintf("id: %d\nevent: progress\ndata: %s\n\n", e.Seq, e.Data))
		after = e.Seq
	}
	return after, a.Over() && len(list) < most
}

// eventWriter writes to a stream, each time within the limit.
type eventWriter struct {
	w     gin.ResponseWriter
	rc    *http.ResponseController
	limit time.Duration
	err   error
}

func (e *eventWriter) write(text string) {
	if e.err != nil {
		return
	}
	_ = e.rc.SetWriteDeadline(time.Now().Add(e.limit)) // without a connection there is nothing to bound
	if _, e.err = e.w.WriteString(text); e.err == nil {
		e.err = e.rc.Flush()
	}
}
