package api

import (
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"sheetwash/api/problem"
	"sheetwash/api/store"
	"sheetwash/api/wire"
)

func showSeason(r store.Season) wire.Season {
	at := "/v1/seasons/" + r.ID
	return wire.Season{
		ID: r.ID, Name: r.Name, TimeZone: r.TimeZone, Units: r.Units, Published: r.Published, Revision: r.Revision,
		CreatedAt: r.CreatedAt, UpdatedAt: r.UpdatedAt,
		Links: wire.Links{"self": at, "events": at + "/events", "datasets": "/v1/datasets?season=" + r.ID, "analyses": "/v1/analyses?season=" + r.ID, "page": "/seasons/" + r.ID},
	}
}

// listSeasons lists seasons.
//
//	@Summary  List seasons
//	@Tags     seasons
//	@Produce  json
//	@Param    season         query  []string  false  "ids or names"  collectionFormat(multi)
//	@Param    changed_since  query  string    false  "date or time"
//	@Param    limit          query  int       false  "1 to 1000, default 100"
//	@Param    cursor         query  string    false  "from next_cursor"
//	@Param    sort           query  string    false  "id, name, created; - in front: descending"
//	@Success  200  {object}  wire.List[wire.Season]
//	@Failure  400  {object}  problem.Details
//	@Router   /v1/seasons [get]
func (s *Server) listSeasons(c *gin.Context) error {
	return listRecords(s, c, s.store.Seasons, showSeason)
}

// createSeason makes a season.
//
//	@Summary  Make a season
//	@Tags     seasons
//	@Accept   json
//	@Produce  json
//	@Param    Idempotency-Key  header  string          false  "1 to 255 characters"
//	@Param    season           body    wire.NewSeason  true   "the season"
//	@Success  201  {object}  wire.Season
//	@Failure  400  {object}  problem.Details
//	@Router   /v1/seasons [post]
func (s *Server) createSeason(c *gin.Context) error {
	r, body, err := s.wantedSeason(c)
	if err != nil {
		return err
	}
	return s.create(c, body, func(tx *store.Tx) (answer, error) {
		made, err := tx.CreateSeason(c.Request.Context(), r)
		if err != nil {
			return answer{}, err
		}
		return s.made(c, tx, audit{"season.create", made.ID, made.ID, made.Name}, "/v1/seasons/"+made.ID, showSeason(made))
	})
}

// wantedSeason reads the season that a caller asks for.
func (s *Server) wantedSeason(c *gin.Context) (store.Season, []byte, error) {
	var in wire.NewSeason
	body, err := s.readJSON(c, mediaJSON, &in)
	if err != nil {
		return store.Season{}, nil, err
	}
	r, err := properSeason(store.Season{Name: in.Name, TimeZone: in.TimeZone, Units: in.Units})
	if err == nil && !whoIs(c).scope.All {
		err = problem.New(problem.NotAllowed, "a key for single seasons cannot make another")
	}
	return r, body, err
}

// getSeason returns a season.
//
//	@Summary  One season
//	@Tags     seasons
//	@Produce  json
//	@Param    id   path      string  true  "id of the season"
//	@Success  200  {object}  wire.Season
//	@Failure  404  {object}  problem.Details
//	@Router   /v1/seasons/{id} [get]
func (s *Server) getSeason(c *gin.Context) error { return oneRecord(s, c, s.store.Season, showSeason) }

// patchSeason changes a season.
//
//	@Summary  Change or publish a season
//	@Tags     seasons
//	@Accept   application/merge-patch+json
//	@Produce  json
//	@Param    id        path    string            true  "id of the season"
//	@Param    If-Match  header  string            true  "ETag of the season"
//	@Param    season    body    wire.SeasonPatch  true  "what changes"
//	@Success  200  {object}  wire.Season
//	@Failure  412  {object}  problem.Details
//	@Router   /v1/seasons/{id} [patch]
func (s *Server) patchSeason(c *gin.Context) error {
	var in wire.SeasonPatch
	if _, err := s.readJSON(c, mediaPatch, &in); err != nil {
		return err
	}
	return edited(s, c, (*store.Tx).Season, showSeason, func(tx *store.Tx, r store.Season) (store.Season, audit, error) {
		r, err := properSeason(patched(r, in))
		if err == nil {
			r, err = tx.UpdateSeason(c.Request.Context(), whoIs(c).scope, r)
		}
		return r, audit{"season.change", r.ID, r.ID, ""}, err
	})
}

func patched(r store.Season, in wire.SeasonPatch) store.Season {
	r.Name, r.TimeZone, r.Units = in.Name.Over(r.Name), in.TimeZone.Over(r.TimeZone), in.Units.Over(r.Units)
	r.Published = in.Published.Over(r.Published)
	return r
}

// deleteSeason deletes an empty season.
//
//	@Summary  Delete an empty season
//	@Tags     seasons
//	@Param    id        path    string  true  "id of the season"
//	@Param    If-Match  header  string  true  "ETag of the season"
//	@Success  204
//	@Failure  409  {object}  problem.Details
//	@Router   /v1/seasons/{id} [delete]
func (s *Server) deleteSeason(c *gin.Context) error {
	return s.change(c, func(tx *store.Tx) (any, error) {
		r, err := matched(c, tx.Season, showSeason)
		if err != nil {
			return nil, err
		}
		if err := tx.DeleteSeason(c.Request.Context(), whoIs(c).scope, r.ID, r.Revision); err != nil {
			return nil, err
		}
		return nil, s.note(c, tx, audit{"season.delete", "", r.ID, r.Name})
	})
}

// properSeason fills what was left open and refuses what cannot be.
func properSeason(r store.Season) (store.Season, error) {
	if r.TimeZone == "" {
		r.TimeZone = "UTC"
	}
	if r.Units == "" {
		r.Units = "si"
	}
	if r.Units != "si" && r.Units != "us" {
		return r, problem.New(problem.MalformedRequest, "units %q are neither si nor us", clip(r.Units))
	}
	if _, err := properZone(r.TimeZone); err != nil {
		return r, err
	}
	return r, properName("name", r.Name, true)
}

// properZone returns a time zone; "" is UTC.
func properZone(name string) (*time.Location, error) {
	zone, err := time.LoadLocation(name)
	if err != nil || name == "Local" {
		return nil, problem.New(problem.MalformedRequest, "time zone %q is no name of the IANA time zone database, such as Europe/London", clip(name))
	}
	return zone, nil
}

// properName refuses names that are empty, long or not printable.
func properName(member, name string, wanted bool) error {
	switch {
	case wanted && strings.TrimSpace(name) == "":
		return problem.New(problem.MalformedRequest, "%s is missing", member)
	case len(name) > 200:
		return problem.New(problem.MalformedRequest, "%s has %d bytes; 200 are allowed", member, len(name))
	case strings.ContainsFunc(name, func(r rune) bool { return r < 0x20 || r == 0x7f }):
		return problem.New(problem.MalformedRequest, "%s holds a control character", member)
	}
	return nil
}
