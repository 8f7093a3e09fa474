package api

import (
	"context"
	"encoding/json"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"sheetwash/api/problem"
	"sheetwash/api/report"
	"sheetwash/api/store"
	"sheetwash/api/wire"
)

func showAnalysis(r store.Analysis) wire.Analysis {
	at := "/v1/analyses/" + r.ID
	a := wire.Analysis{
		ID: r.ID, SeasonID: r.SeasonID, State: r.State, Progress: wire.Progress{Done: r.Done, Total: r.Total, Failed: r.Failed},
		Parameters: object(r.Parameters), CreatedBy: maybe(r.CreatedBy), CreatedAt: r.CreatedAt, StartedAt: r.StartedAt,
		FinishedAt: r.FinishedAt, Problem: object(r.Problem), Links: wire.Links{"self": at, "events": at + "/events"},
	}
	if r.State == store.AnalysisSuccessful {
		for _, t := range report.Tables(report.SI) {
			a.Links[t.Name] = at + "/" + t.Name
		}
	}
	return a
}

// object is an object as it is kept; nothing where there is none.
func object(raw json.RawMessage) json.RawMessage {
	if len(raw) == 0 || string(raw) == "null" {
		return nil
	}
	return raw
}

// listAnalyses lists analyses.
//
//	@Summary  List analyses
//	@Tags     analyses
//	@Produce  json
//	@Param    season         query  []string  false  "ids or names of seasons"  collectionFormat(multi)
//	@Param    dataset        query  []string  false  "ids of datasets"  collectionFormat(multi)
//	@Param    state          query  []string  false  "accepted, running, successful, failed, dismissed"  collectionFormat(multi)
//	@Param    from           query  string    false  "made at or after: date or time"
//	@Param    to             query  string    false  "made before: date or time"
//	@Param    changed_since  query  string    false  "date or time"
//	@Param    limit          query  int       false  "1 to 1000, default 100"
//	@Param    cursor         query  string    false  "from next_cursor"
//	@Param    sort           query  string    false  "id, created; - in front: descending"
//	@Success  200  {object}  wire.List[wire.Analysis]
//	@Failure  400  {object}  problem.Details
//	@Router   /v1/analyses [get]
func (s *Server) listAnalyses(c *gin.Context) error {
	return listRecords(s, c, s.store.Analyses, showAnalysis)
}

// createAnalysis starts an analysis.
//
//	@Summary      Start an analysis
//	@Description  Over named datasets of one season, or over all accepted ones of a season. It is answered with 202 at once; with Prefer: wait=N (at most 30 s) with 200 if it is over by then. One bad dataset does not sink a season: the analysis ends successful with failed above 0.
//	@Tags         analyses
//	@Accept       json
//	@Produce      json
//	@Param        Idempotency-Key  header  string            false  "1 to 255 characters"
//	@Param        Prefer           header  string            false  "wait=N or respond-async"
//	@Param        analysis         body    wire.NewAnalysis  true   "what to analyse"
//	@Success      202  {object}  wire.Analysis
//	@Failure      409  {object}  problem.Details
//	@Router       /v1/analyses [post]
func (s *Server) createAnalysis(c *gin.Context) error {
	var in wire.NewAnalysis
	body, err := s.readJSON(c, mediaJSON, &in)
	if err != nil {
		return err
	}
	settings, err := s.properSettings(in.Parameters)
	if err != nil {
		return err
	}
	season, ids, err := s.datasetsOf(c.Request.Context(), whoIs(c).scope, in)
	if err != nil {
		return err
	}
	r, err := s.begin(c, body)
	if r == nil || err != nil {
		return err
	}
	defer r.close(c.Request.Context())
	var made store.Analysis
	a, err := r.do(c.Request.Context(), func(tx *store.Tx) (answer, error) {
		made, err = s.submit(c, tx, store.Analysis{SeasonID: season, Parameters: settings, CreatedBy: whoIs(c).signed()}, ids)
		header := map[string]string{"Location": "/v1/analyses/" + made.ID, "Retry-After": "1"}
		return answer{http.StatusAccepted, header, showAnalysis(made)}, err
	})
	if err != nil {
		return err
	}
	return s.give(c, s.waited(c, made, a))
}

// submit writes an analysis and puts it into the queue.
func (s *Server) submit(c *gin.Context, tx *store.Tx, a store.Analysis, ids []string) (store.Analysis, error) {
	ctx, who := c.Request.Context(), whoIs(c)
	waiting, err := tx.QueuedAnalyses(ctx, who.signed())
	if err != nil {
		return a, err
	}
	if l := s.limits.QueuedAnalyses; l > 0 && waiting >= l && who.id != operator {
		return a, problem.New(problem.QuotaReached, "%d analyses of this caller are not over; %d are allowed", waiting, l)
	}
	if a, err = tx.CreateAnalysis(ctx, who.scope, a, ids); err != nil {
		return a, err
	}
	if err := s.jobs.Submit(ctx, tx, a); err != nil {
		return a, err
	}
	return a, s.note(c, tx, audit{"analysis.create", a.SeasonID, a.ID, strconv.Itoa(len(ids)) + " datasets"})
}

// datasetsOf returns the season and the datasets that an analysis is asked for.
func (s *Server) datasetsOf(ctx context.Context, scope store.Scope, in wire.NewAnalysis) (season string, ids []string, err error) {
	switch {
	case in.Season == "" && len(in.Datasets) == 0:
		return "", nil, problem.New(problem.MalformedRequest, "name a season, or the datasets")
	case in.Season != "":
		r, err := s.seasonBy(ctx, scope, in.Season)
		if err != nil {
			return "", nil, err
		}
		season = r.ID
	}
	if len(in.Datasets) > 0 {
		d, err := s.store.Dataset(ctx, scope, in.Datasets[0])
		if err == nil && season != "" && d.SeasonID != season {
			err = problem.New(problem.NotFound, "there is no dataset %s in the season", clip(in.Datasets[0]))
		}
		return d.SeasonID, in.Datasets, err
	}
	ids, err = s.acceptedIn(ctx, scope, season)
	return season, ids, err
}

// acceptedIn lists the datasets of a season that can be analysed.
func (s *Server) acceptedIn(ctx context.Context, scope store.Scope, season string) (ids []string, err error) {
	f := store.Filter{Seasons: []string{season}, States: []string{store.DatasetAccepted}}
	for p := (store.Page{Limit: 1000}); ; {
		l, err := s.store.Datasets(ctx, scope, f, p)
		if err != nil {
			return nil, err
		}
		for _, d := range l.Rows {
			ids = append(ids, d.ID)
		}
		if p.After = l.Next; !l.More {
			break
		}
	}
	if len(ids) == 0 {
		return nil, problem.New(problem.StateConflict, "the season has no accepted dataset")
	}
	return ids, nil
}

// properSettings encodes settings, and refuses those that are out of range.
func (s *Server) properSettings(in *wire.Settings) (json.RawMessage, error) {
	if in == nil {
		in = &wire.Settings{}
	}
	settings, err := json.Marshal(in)
	if err != nil {
		return nil, err
	}
	return settings, s.engine.Valid(settings)
}

// waited holds back the answer to a new analysis as long as the caller prefers, and
// answers 200 if it is over by then.
func (s *Server) waited(c *gin.Context, made store.Analysis, a answer) answer {
	wait, asked := preferredWait(c.Request.Header.Values("Prefer"), s.limits.WaitTime)
	if asked == "" {
		return a
	}
	a.header["Preference-Applied"] = asked
	now, err := s.overBy(c.Request.Context(), made.ID, wait)
	if err != nil || !now.Over() {
		return a // it goes on; the caller asks again
	}
	delete(a.header, "Retry-After")
	a.status, a.body = http.StatusOK, showAnalysis(now)
	return a
}

// overBy returns the analysis once it is over, or as it is when the time has passed.
func (s *Server) overBy(ctx context.Context, id string, wait time.Duration) (store.Analysis, error) {
	ctx, cancel := context.WithTimeout(ctx, wait+time.Second)
	defer cancel()
	tick := time.NewTicker(25 * time.Millisecond)
	defer tick.Stop()
	for end := time.Now().Add(wait); ; {
		a, err := s.store.Analysis(ctx, store.Everything, id)
		if err != nil || a.Over() || !time.Now().Before(end) {
			return a, err
		}
		select {
		case <-tick.C:
		case <-s.drain.ch:
			return a, nil
		case <-ctx.Done():
			return a, ctx.Err()
		}
	}
}

// preferredWait reads the Prefer header (RFC 7240): how long to wait, and what of it
// is followed.
func preferredWait(headers []string, most time.Duration) (wait time.Duration, applied string) {
	for _, part := range strings.Split(strings.Join(headers, ","), ",") {
		name, value, _ := strings.Cut(strings.TrimSpace(part), "=")
		switch strings.ToLower(name) {
		case "respond-async":
			return 0, "respond-async"
		case "wait":
			seconds, err := strconv.Atoi(strings.Trim(value, `"`))
			if err != nil || seconds < 0 {
				continue
			}
			wait = min(time.Duration(min(seconds, 3600))*time.Second, most)
			applied = "wait=" + strconv.Itoa(int(wait.Seconds()))
		}
	}
	return wait, applied
}

// getAnalysis returns an analysis, finished or not.
//
//	@Summary  One analysis: its state, its datasets, and where its results are
//	@Tags     analyses
//	@Produce  json
//	@Param    id   path      string  true  "id of the analysis"
//	@Success  200  {object}  wire.Analysis
//	@Failure  404  {object}  problem.Details
//	@Router   /v1/analyses/{id} [get]
func (s *Server) getAnalysis(c *gin.Context) error {
	r, err := s.store.Analysis(c.Request.Context(), whoIs(c).scope, c.Param("id"))
	if err != nil {
		return err
	}
	parts, err := s.store.AnalysisDatasets(c.Request.Context(), whoIs(c).scope, r.ID)
	if err != nil {
		return err
	}
	return s.ok(c, showWhole(r, parts), keepChecking)
}

// showWhole is an analysis with its datasets and its provenance.
func showWhole(r store.Analysis, parts []store.AnalysisDataset) wire.Analysis {
	a := showAnalysis(r)
	a.Provenance = object(r.Provenance)
	for _, p := range parts {
		a.Datasets = append(a.Datasets, wire.AnalysisPart{
			Dataset: p.DatasetID, State: p.State, Deleted: p.DatasetState == store.DatasetDeleted, Problem: object(p.Problem),
		})
	}
	return a
}

// dismissAnalysis withdraws an analysis.
//
//	@Summary      Dismiss an analysis
//	@Description  It is stopped if it runs. Its results are gone and answer 410.
//	@Tags         analyses
//	@Produce      json
//	@Param        id        path      string  true   "id of the analysis"
//	@Param        If-Match  header    string  false  "ETag of the analysis; without it whatever its state is"
//	@Success      200  {object}  wire.Analysis
//	@Failure      410  {object}  problem.Details
//	@Router       /v1/analyses/{id} [delete]
func (s *Server) dismissAnalysis(c *gin.Context) error {
	defer s.analyses.forget(c.Param("id"))
	return s.change(c, func(tx *store.Tx) (any, error) {
		ctx, scope := c.Request.Context(), whoIs(c).scope
		r, err := tx.Analysis(ctx, scope, c.Param("id"))
		if err == nil && r.State == store.AnalysisDismissed {
			err = problem.New(problem.Dismissed, "the analysis was dismissed already")
		}
		if err == nil {
			err = mayDismiss(ctx, c, tx, r)
		}
		if err == nil {
			r, err = tx.DismissAnalysis(ctx, scope, r.ID, r.Revision)
		}
		if err != nil {
			return nil, err
		}
		return showAnalysis(r), s.note(c, tx, audit{"analysis.dismiss", r.SeasonID, r.ID, ""})
	})
}

// mayDismiss checks If-Match, where it is sent: an analysis changes by itself, so
// that a caller who means it in any state need not name one.
func mayDismiss(ctx context.Context, c *gin.Context, tx *store.Tx, r store.Analysis) error {
	if c.GetHeader("If-Match") == "" {
		return nil
	}
	parts, err := tx.AnalysisDatasets(ctx, whoIs(c).scope, r.ID)
	if err != nil {
		return err
	}
	return mustMatch(c, showWhole(r, parts))
}
