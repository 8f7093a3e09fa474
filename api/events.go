package api

import (
	"context"
	"net/url"
	"time"

	"github.com/gin-gonic/gin"

	"sheetwash/api/problem"
	"sheetwash/api/store"
	"sheetwash/api/wire"
)

func showEvent(r store.Event) wire.Event {
	return wire.Event{
		ID: r.ID, SeasonID: r.SeasonID, Name: r.Name, Date: maybe(r.Date), Place: maybe(r.Place), Crew: maybe(r.Crew),
		Simulator: maybe(r.Simulator), Revision: r.Revision, CreatedAt: r.CreatedAt, UpdatedAt: r.UpdatedAt,
		Links: wire.Links{"self": "/v1/events/" + r.ID, "season": "/v1/seasons/" + r.SeasonID, "datasets": "/v1/datasets?event=" + r.ID, "page": "/seasons/" + r.SeasonID + "/event?event=" + url.QueryEscape(r.Name)},
	}
}

// listEvents lists the events of a season.
//
//	@Summary  List the events of a season
//	@Tags     events
//	@Produce  json
//	@Param    id             path   string    true   "id of the season"
//	@Param    event          query  []string  false  "ids or names"  collectionFormat(multi)
//	@Param    from           query  string    false  "date, inclusive"
//	@Param    to             query  string    false  "date, exclusive"
//	@Param    changed_since  query  string    false  "date or time"
//	@Param    limit          query  int       false  "1 to 1000, default 100"
//	@Param    cursor         query  string    false  "from next_cursor"
//	@Param    sort           query  string    false  "id, name, date, created; - in front: descending"
//	@Success  200  {object}  wire.List[wire.Event]
//	@Failure  404  {object}  problem.Details
//	@Router   /v1/seasons/{id}/events [get]
func (s *Server) listEvents(c *gin.Context) error {
	season, err := s.store.Season(c.Request.Context(), whoIs(c).scope, c.Param("id"))
	if err != nil {
		return err
	}
	within := func(ctx context.Context, scope store.Scope, f store.Filter, p store.Page) (store.List[store.Event], error) {
		f.Seasons = []string{season.ID}
		return s.store.Events(ctx, scope, f, p)
	}
	return listRecords(s, c, within, showEvent)
}

// createEvent makes an event.
//
//	@Summary  Make an event
//	@Tags     events
//	@Accept   json
//	@Produce  json
//	@Param    id               path    string         true   "id of the season"
//	@Param    Idempotency-Key  header  string         false  "1 to 255 characters"
//	@Param    event            body    wire.NewEvent  true   "the event"
//	@Success  201  {object}  wire.Event
//	@Failure  400  {object}  problem.Details
//	@Router   /v1/seasons/{id}/events [post]
func (s *Server) createEvent(c *gin.Context) error {
	r, body, err := s.wantedEvent(c)
	if err != nil {
		return err
	}
	return s.create(c, body, func(tx *store.Tx) (answer, error) {
		made, err := tx.CreateEvent(c.Request.Context(), whoIs(c).scope, r)
		if err != nil {
			return answer{}, err
		}
		return s.made(c, tx, audit{"event.create", made.SeasonID, made.ID, made.Name}, "/v1/events/"+made.ID, showEvent(made))
	})
}

// wantedEvent reads the event that a caller asks for.
func (s *Server) wantedEvent(c *gin.Context) (store.Event, []byte, error) {
	var in wire.NewEvent
	body, err := s.readJSON(c, mediaJSON, &in)
	if err != nil {
		return store.Event{}, nil, err
	}
	r, err := properEvent(store.Event{SeasonID: c.Param("id"), Name: in.Name, Date: in.Date, Place: in.Place, Crew: in.Crew, Simulator: in.Simulator})
	return r, body, err
}

// getEvent returns an event.
//
//	@Summary  One event
//	@Tags     events
//	@Produce  json
//	@Param    id   path      string  true  "id of the event"
//	@Success  200  {object}  wire.Event
//	@Failure  404  {object}  problem.Details
//	@Router   /v1/events/{id} [get]
func (s *Server) getEvent(c *gin.Context) error { return oneRecord(s, c, s.store.Event, showEvent) }

// patchEvent changes an event.
//
//	@Summary  Change an event
//	@Tags     events
//	@Accept   application/merge-patch+json
//	@Produce  json
//	@Param    id        path    string           true  "id of the event"
//	@Param    If-Match  header  string           true  "ETag of the event"
//	@Param    event     body    wire.EventPatch  true  "what changes; null takes a member away"
//	@Success  200  {object}  wire.Event
//	@Failure  412  {object}  problem.Details
//	@Router   /v1/events/{id} [patch]
func (s *Server) patchEvent(c *gin.Context) error {
	var in wire.EventPatch
	if _, err := s.readJSON(c, mediaPatch, &in); err != nil {
		return err
	}
	return edited(s, c, (*store.Tx).Event, showEvent, func(tx *store.Tx, r store.Event) (store.Event, audit, error) {
		r.Name, r.Date, r.Place = in.Name.Over(r.Name), in.Date.Over(r.Date), in.Place.Over(r.Place)
		r.Crew, r.Simulator = in.Crew.Over(r.Crew), in.Simulator.Over(r.Simulator)
		r, err := properEvent(r)
		if err == nil {
			r, err = tx.UpdateEvent(c.Request.Context(), whoIs(c).scope, r)
		}
		return r, audit{"event.change", r.SeasonID, r.ID, ""}, err
	})
}

// deleteEvent deletes an event without datasets.
//
//	@Summary  Delete an event without datasets
//	@Tags     events
//	@Param    id        path    string  true  "id of the event"
//	@Param    If-Match  header  string  true  "ETag of the event"
//	@Success  204
//	@Failure  409  {object}  problem.Details
//	@Router   /v1/events/{id} [delete]
func (s *Server) deleteEvent(c *gin.Context) error {
	return s.change(c, func(tx *store.Tx) (any, error) {
		r, err := matched(c, tx.Event, showEvent)
		if err != nil {
			return nil, err
		}
		if err := tx.DeleteEvent(c.Request.Context(), whoIs(c).scope, r.ID, r.Revision); err != nil {
			return nil, err
		}
		return nil, s.note(c, tx, audit{"event.delete", r.SeasonID, r.ID, r.Name})
	})
}

// properEvent refuses what cannot be.
func properEvent(r store.Event) (store.Event, error) {
	if r.Date != "" {
		if _, err := time.Parse(time.DateOnly, r.Date); err != nil {
			return r, problem.New(problem.MalformedRequest, "date %q is not of the form 2026-05-14", clip(r.Date))
		}
	}
	for _, m := range []struct{ member, text string }{{"place", r.Place}, {"crew", r.Crew}, {"simulator", r.Simulator}} {
		if err := properName(m.member, m.text, false); err != nil {
			return r, err
		}
	}
	return r, properName("name", r.Name, true)
}
