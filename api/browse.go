package api

import (
	"bytes"
	"context"
	"io"
	"net/http"
	"net/url"
	"time"

	"github.com/gin-gonic/gin"

	"sheetwash/api/live"
	"sheetwash/api/problem"
	"sheetwash/api/report"
	"sheetwash/api/report/page"
	"sheetwash/api/store"
)

// pagePolicy lets a page style itself, send its forms here, and load nothing.
const pagePolicy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

const mediaPage = "text/html; charset=utf-8"

// refreshTime is how often a page is asked for again while something goes on.
const refreshTime = 3 * time.Second

// showPage answers with a page.
func (s *Server) showPage(c *gin.Context, keep string, write func(io.Writer) error) error {
	var b bytes.Buffer
	if err := write(&b); err != nil {
		return err
	}
	pageHeaders(c)
	return s.send(c, mediaPage, b.Bytes(), tagOf(b.Bytes()), keep)
}

func pageHeaders(c *gin.Context) {
	c.Header("Content-Security-Policy", pagePolicy)
	c.Header("Vary", "Accept, Accept-Encoding, Authorization, Cookie, Origin")
}

// seasonPages is a season with what its pages are made of.
type seasonPages struct {
	season   store.Season
	input    page.Input
	some     bool   // there are results
	analysis string // of all of them; "": of several
	running  *store.Analysis
	waiting  int // accepted datasets without results
	refused  int
}

// pagesOf gathers the results of the season that the address names: of each dataset
// those of its newest successful analysis.
func (s *Server) pagesOf(c *gin.Context) (*seasonPages, error) {
	ctx, scope := c.Request.Context(), whoIs(c).scope
	season, err := s.store.Season(ctx, scope, c.Param("id"))
	if err != nil {
		return nil, err
	}
	p := &seasonPages{season: season}
	parts, err := s.newest(c, season, "plot_results")
	if err != nil {
		return nil, err
	}
	var pieces []page.Piece
	for _, part := range parts {
		a, err := s.finished(ctx, scope, part.id)
		if err != nil {
			return nil, err
		}
		in, err := s.engine.Pages(ctx, a)
		if err != nil {
			return nil, err
		}
		pieces = append(pieces, page.Piece{Input: in, Datasets: part.only})
	}
	if p.some = len(pieces) > 0; p.some {
		p.input = page.Joined(pieces)
	}
	if len(parts) == 1 && parts[0].only == nil {
		p.analysis = parts[0].id
	}
	return p, s.fillState(ctx, scope, p)
}

// fillState adds what goes on in the season.
func (s *Server) fillState(ctx context.Context, scope store.Scope, p *seasonPages) error {
	latest, err := s.store.LatestResults(ctx, scope, p.season.ID)
	if err != nil {
		return err
	}
	counts, err := s.uploadCounts(ctx, scope, p.season.ID)
	if err != nil {
		return err
	}
	n := counts[p.season.ID]
	p.waiting, p.refused = n.accepted-len(latest), n.refused
	p.running, err = s.runningIn(ctx, scope, store.Filter{Seasons: []string{p.season.ID}})
	return err
}

// runningIn returns the newest analysis that is not over; nil if there is none.
func (s *Server) runningIn(ctx context.Context, scope store.Scope, f store.Filter) (*store.Analysis, error) {
	f.States = []string{store.AnalysisAccepted, store.AnalysisRunning}
	l, err := s.store.Analyses(ctx, scope, f, store.Page{Limit: 1, Sort: "-created"})
	if err != nil || len(l.Rows) == 0 {
		return nil, err
	}
	return &l.Rows[0], nil
}

// uploadCount counts the uploads of a season. One that was refused counts until one
// of its name is accepted.
type uploadCount struct {
	accepted, refused int
	names             map[string]bool // of those that were accepted
}

// uploadCounts counts the uploads of seasons; no season: of all in scope.
func (s *Server) uploadCounts(ctx context.Context, scope store.Scope, seasons ...string) (map[string]uploadCount, error) {
	out := map[string]uploadCount{}
	var refused []store.Dataset
	for p := (store.Page{Limit: 1000}); ; {
		l, err := s.store.Datasets(ctx, scope, store.Filter{Seasons: seasons}, p)
		if err != nil {
			return nil, err
		}
		for _, d := range l.Rows {
			if d.State != store.DatasetAccepted {
				refused = append(refused, d)
				continue
			}
			n := out[d.SeasonID]
			if n.names == nil {
				n.names = map[string]bool{}
			}
			n.accepted++
			n.names[d.Name] = true
			out[d.SeasonID] = n
		}
		if p.After = l.Next; !l.More {
			break
		}
	}
	for _, d := range refused {
		if n := out[d.SeasonID]; !n.names[d.Name] {
			n.refused++
			out[d.SeasonID] = n
		}
	}
	return out, nil
}

// address returns where a page of the season lies.
func (p *seasonPages) address(t page.Target, units string) string {
	q := url.Values{}
	if units != "" {
		q.Set("units", units)
	}
	at := "/seasons/" + p.season.ID
	switch t.Kind {
	case page.EventPage:
		at += "/event"
		q.Set("event", t.Event)
		if t.Season != "" {
			q.Set("season", t.Season)
		}
	case page.RunPage:
		at += "/run"
		q.Set("dataset", t.Dataset)
		q.Set("run", t.Run)
	}
	if len(q) > 0 {
		at += "?" + q.Encode()
	}
	return at
}

// unitsOf returns the units that a page is wanted in, and the word of the address if
// they are not those of the season.
func unitsOf(c *gin.Context, season store.Season) (report.Units, string, error) {
	q := queryOf(c)
	word := q.choice("units", season.Units, "si", "us")
	if q.err != nil {
		return report.SI, "", q.err
	}
	units, err := report.ParseUnits(word)
	if word == season.Units {
		word = ""
	}
	return units, word, err
}

// listPages lists the seasons to people.
//
//	@Summary      The seasons, as a page
//	@Description  The first of the pages for people. They need no script; a browser signs in at /sign-in.
//	@Tags         pages
//	@Produce      html
//	@Success      200  {string}  string
//	@Failure      401  {object}  problem.Details
//	@Router       / [get]
func (s *Server) listPages(c *gin.Context) error {
	ctx, who := c.Request.Context(), whoIs(c)
	counts, err := s.uploadCounts(ctx, who.scope)
	if err != nil {
		return err
	}
	p := live.Seasons{Frame: page.Frame{Menu: s.menu(c, nil)}, MayMake: who.may(manages) && who.scope.All}
	for next := (store.Page{Limit: 1000, Sort: "name"}); ; {
		l, err := s.store.Seasons(ctx, who.scope, store.Filter{}, next)
		if err != nil {
			return err
		}
		for _, r := range l.Rows {
			n := counts[r.ID]
			p.Seasons = append(p.Seasons, live.Season{Name: r.Name, Href: "/seasons/" + r.ID, Accepted: n.accepted, Refused: n.refused, Published: r.Published})
		}
		if next.After = l.Next; !l.More {
			break
		}
	}
	return s.showPage(c, keepChecking, p.Write)
}

// getSeasonPage shows the report of a season to people.
//
//	@Summary  The report of a season as it is now, as a page
//	@Tags     pages
//	@Produce  html
//	@Param    id     path   string  true   "id of the season"
//	@Param    units  query  string  false  "those of the season if not given"  Enums(si, us)
//	@Param    still  query  bool    false  "do not come again by itself while an analysis runs"
//	@Success  200  {string}  string
//	@Failure  404  {object}  problem.Details
//	@Router   /seasons/{id} [get]
func (s *Server) getSeasonPage(c *gin.Context) error {
	return s.resultPage(c, func(*seasonPages) (page.Target, error) { return page.Target{Kind: page.SeasonPage}, nil })
}

// getEventPage shows a field day to people.
//
//	@Summary  A field day as it is now, as a page
//	@Tags     pages
//	@Produce  html
//	@Param    id      path   string  true   "id of the season"
//	@Param    event   query  string  true   "name of the event, as the data has it"
//	@Param    season  query  string  false  "season, as the data has it; needed where it has two events of the name"
//	@Param    units   query  string  false  "those of the season if not given"  Enums(si, us)
//	@Param    still   query  bool    false  "do not come again by itself while an analysis runs"
//	@Success  200  {string}  string
//	@Failure  404  {object}  problem.Details
//	@Router   /seasons/{id}/event [get]
func (s *Server) getEventPage(c *gin.Context) error {
	return s.resultPage(c, func(p *seasonPages) (page.Target, error) { return eventTarget(queryOf(c), page.New(p.input)) })
}

// getRunPage shows a run to people.
//
//	@Summary  A run as it is now, as a page
//	@Tags     pages
//	@Produce  html
//	@Param    id       path   string  true   "id of the season"
//	@Param    dataset  query  string  true   "id or name of the dataset"
//	@Param    run      query  string  true   "name of the run, as the data has it"
//	@Param    units    query  string  false  "those of the season if not given"  Enums(si, us)
//	@Param    still    query  bool    false  "do not come again by itself while an analysis runs"
//	@Success  200  {string}  string
//	@Failure  404  {object}  problem.Details
//	@Router   /seasons/{id}/run [get]
func (s *Server) getRunPage(c *gin.Context) error {
	return s.resultPage(c, func(p *seasonPages) (page.Target, error) {
		q := queryOf(c)
		dataset := q.word("dataset")
		if d, err := s.store.Dataset(c.Request.Context(), whoIs(c).scope, dataset); err == nil && d.SeasonID == p.season.ID {
			dataset = d.Name
		}
		return runTarget(q, dataset, page.New(p.input))
	})
}

// eventTarget finds the event that an address names.
func eventTarget(q *query, site *page.Site) (page.Target, error) {
	name, season := q.word("event"), q.word("season")
	if _, given := q.values["event"]; !given {
		q.fail(problem.MalformedRequest, "event is missing: say by its name which field day is wanted")
	}
	var found []page.Target
	for _, t := range site.Events() {
		if _, given := q.values["season"]; t.Event == name && (!given || t.Season == season) {
			found = append(found, t)
		}
	}
	return theOne(q, found, "event", name)
}

// runTarget finds the run that an address names.
func runTarget(q *query, dataset string, site *page.Site) (page.Target, error) {
	name := q.word("run")
	if _, given := q.values["run"]; !given {
		q.fail(problem.MalformedRequest, "run is missing: say by its name which run is wanted")
	}
	var found []page.Target
	for _, t := range site.Runs() {
		if _, given := q.values["dataset"]; t.Run == name && (!given || t.Dataset == dataset) {
			found = append(found, t)
		}
	}
	return theOne(q, found, "run", name)
}

func theOne(q *query, found []page.Target, what, name string) (page.Target, error) {
	if q.err != nil {
		return page.Target{}, q.err
	}
	if len(found) != 1 {
		return page.Target{}, missing(what, name, len(found))
	}
	return found[0], nil
}

// resultPage shows a page of results of a season, or says that there are none yet.
func (s *Server) resultPage(c *gin.Context, which func(*seasonPages) (page.Target, error)) error {
	p, err := s.pagesOf(c)
	if err != nil {
		return err
	}
	units, word, err := unitsOf(c, p.season)
	if err != nil {
		return err
	}
	t, err := which(p)
	if err != nil {
		return err
	}
	frame := s.frameOf(c, p, t, units, word)
	if !p.some {
		return s.showPage(c, keepChecking, live.Message{
			Frame: frame, Title: "Season " + p.season.Name, Kicker: "Season", Text: "There are no results yet. They show here as soon as data was uploaded and analysed.",
			Links: []page.Link{{Text: "Uploads", Href: "/seasons/" + p.season.ID + "/uploads"}},
		}.Write)
	}
	p.input.Units, p.input.Frame = units, frame
	p.input.Link = func(t page.Target) string { return p.address(t, word) }
	p.input.Why = func(key string) string { return p.why(key, p.address(t, word)) }
	return s.showPage(c, keepChecking, func(w io.Writer) error { return page.New(p.input).Write(w, t) })
}

// local is an address of this server; "" for any other.
func local(address string) string {
	u, err := url.Parse(address)
	if err != nil || u.Scheme != "" || u.Host != "" || u.Opaque != "" || len(address) == 0 || address[0] != '/' || len(address) > 1 && (address[1] == '/' || address[1] == '\\') {
		return ""
	}
	return address
}

// seeOther sends a browser that sent a form to a page.
func (s *Server) seeOther(c *gin.Context, at string) error {
	c.Header("Location", at)
	c.Header("Cache-Control", keepNever)
	c.Status(http.StatusSeeOther)
	c.Writer.WriteHeaderNow()
	return nil
}
