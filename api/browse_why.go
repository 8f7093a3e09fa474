package api

import (
	"cmp"
	"net/url"
	"slices"

	"github.com/gin-gonic/gin"

	"sheetwash/api/problem"
	"sheetwash/api/report"
	"sheetwash/api/report/page"
)

// why is where a page tells how a number came about.
func (p *seasonPages) why(key, back string) string {
	q := url.Values{"key": {key}}
	if back != "" {
		q.Set("to", back)
	}
	return "/seasons/" + p.season.ID + "/why?" + q.Encode()
}

// getWhy tells people how a number of a season came about.
//
//	@Summary  How a number came about, as a page
//	@Tags     pages
//	@Produce  html
//	@Param    id   path   string  true   "id of the season"
//	@Param    key  query  string  true   "key of the row: the table and its key columns, joined by slashes"
//	@Param    to   query  string  false  "the page to go back to"
//	@Success  200  {string}  string
//	@Failure  404  {object}  problem.Details
//	@Router   /seasons/{id}/why [get]
func (s *Server) getWhy(c *gin.Context) error {
	ctx, scope := c.Request.Context(), whoIs(c).scope
	season, err := s.store.Season(ctx, scope, c.Param("id"))
	if err != nil {
		return err
	}
	q := queryOf(c)
	key, back := q.word("key"), q.word("to")
	if key == "" {
		q.fail(problem.MalformedRequest, "key is missing: it names the row of a result table")
	}
	if q.err != nil {
		return q.err
	}
	parts, err := s.newest(c, season, "plot_results")
	if err != nil {
		return err
	}
	slices.SortFunc(parts, func(a, b tablePart) int { return cmp.Compare(b.id, a.id) }) // the newest first
	p := &seasonPages{season: season}
	for _, part := range parts {
		a, err := s.finished(ctx, scope, part.id)
		if err != nil {
			return err
		}
		n, err := s.engine.Explain(ctx, a, key, report.SI)
		if err != nil && problem.From(err).Code == problem.NotFound {
			continue
		}
		if err != nil {
			return err
		}
		d := page.Derivation{Node: &n, Back: local(back), Frame: page.Frame{Menu: s.menu(c, &season)}, Why: func(key string) string { return p.why(key, local(back)) }}
		return s.showPage(c, keepChecking, d.Write)
	}
	return problem.New(problem.NotFound, "no number of the newest results has the key %q", clip(key))
}
