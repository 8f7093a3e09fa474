package api

import (
	"context"
	"encoding/json"

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
		a.Links["report"] = "/v1/reports/" + r.ID
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
	wanted, err := s.wantedAnalysis(c)
	if err != nil {
		return err
	}
	s.patient(c)
	r, err := s.begin(c, wanted.body)
	if r == nil || err != nil {
		return err
	}
	defer r.close(c.Request.Context())
	a, err := r.do(c.Request.Context(), func(tx *store.Tx) (answer, error) { return s.submit(c, tx, wanted) })
	if err != nil {
		return err
	}
	return s.give(c, s.waited(c, wanted.made, a))
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
		r, err := tx.Analysis(c.Request.Context(), whoIs(c).scope, c.Param("id"))
		if err == nil {
			err = mayDismiss(c.Request.Context(), c, tx, r)
		}
		if err == nil {
			r, err = tx.DismissAnalysis(c.Request.Context(), whoIs(c).scope, r.ID, r.Revision)
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
	if r.State == store.AnalysisDismissed {
		return problem.New(problem.Dismissed, "the analysis was dismissed already")
	}
	if c.GetHeader("If-Match") == "" {
		return nil
	}
	parts, err := tx.AnalysisDatasets(ctx, whoIs(c).scope, r.ID)
	if err != nil {
		return err
	}
	return mustMatch(c, showWhole(r, parts))
}
