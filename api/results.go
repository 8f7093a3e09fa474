package api

import (
	"context"
	"slices"
	"sync"
	"time"

	"github.com/gin-gonic/gin"

	"sheetwash/api/problem"
	"sheetwash/api/report"
	"sheetwash/api/store"
)

// getTable returns a result table of an analysis.
//
//	@Summary      A result table of an analysis
//	@Description  JSON comes in pages; csv, arrow, parquet and shape=rows without limit hold all rows that fit the filters, with their number in Row-Count. A filter repeats for alternatives; one for a column that the table lacks is refused.
//	@Tags         results
//	@Produce      json
//	@Param        id     path  string  true  "id of the analysis"
//	@Param        table  path  string  true  "name of the table"  Enums(findings, hydrograph, plot_results, fits, treatment_results, comparisons, calibrations)
//	@Success      200  {object}  object
//	@Failure      410  {object}  problem.Details
//	@Router       /v1/analyses/{id}/{table} [get]
func (s *Server) getTable(c *gin.Context) error {
	table := c.Param("table")
	if _, ok := s.tables.find(table, report.SI); !ok {
		return noTable(table)
	}
	a, err := s.finished(c.Request.Context(), whoIs(c).scope, c.Param("id"))
	if err != nil {
		return err
	}
	if r, ok := s.pages.asked(askFor(nil, c.Request)); ok {
		return s.giveReady(c, r)
	}
	return s.tableAnswer(c, tableRequest{
		table: table, tag: "analysis " + a.ID, analysis: a.ID, keep: keepForever, filters: columnFilters,
		parts: []tablePart{{id: a.ID, open: s.opener(c, a, table)}},
	})
}

// opener opens a table in the units that the caller wants.
func (s *Server) opener(c *gin.Context, a store.Analysis, table string) func(context.Context) (Table, error) {
	units := queryOf(c).units()
	return func(ctx context.Context) (Table, error) { return s.engine.Table(ctx, a, table, units) }
}

// getResults returns a result table over a season.
//
//	@Summary      A result table over a season: for each dataset the rows of its newest successful analysis
//	@Description  treatment_results and comparisons have rows over all datasets: they are those of the newest successful analysis. Formats, filters and pages are as for the table of one analysis.
//	@Tags         results
//	@Produce      json
//	@Param        table   path   string  true  "name of the table"  Enums(findings, hydrograph, plot_results, fits, treatment_results, comparisons, calibrations)
//	@Param        season  query  string  true  "id or name of the season"
//	@Success      200  {object}  object
//	@Failure      404  {object}  problem.Details
//	@Router       /v1/results/{table} [get]
func (s *Server) getResults(c *gin.Context) error {
	table := c.Param("table")
	if _, ok := s.tables.find(table, report.SI); !ok {
		return noTable(table)
	}
	season, err := s.seasonOf(c)
	if err != nil {
		return err
	}
	parts, err := s.newest(c, season, table)
	if err != nil {
		return err
	}
	return s.tableAnswer(c, tableRequest{table: table, tag: "season " + season.ID, keep: keepChecking, filters: columnFilters, parts: parts})
}

// seasonOf is the season whose results are wanted.
func (s *Server) seasonOf(c *gin.Context) (store.Season, error) {
	q := queryOf(c)
	word := q.word("season")
	if word == "" {
		q.fail(problem.MalformedRequest, "season is missing: say by its id or name whose results are wanted")
	}
	if q.err != nil {
		return store.Season{}, q.err
	}
	return s.seasonBy(c.Request.Context(), whoIs(c).scope, word)
}

// newest lists the analyses that a season's rows come from, each with the datasets
// that have none newer.
func (s *Server) newest(c *gin.Context, season store.Season, table string) ([]tablePart, error) {
	ctx, scope := c.Request.Context(), whoIs(c).scope
	latest, err := s.store.LatestResults(ctx, scope, season.ID)
	if err != nil || len(latest) == 0 {
		return nil, err
	}
	datasets := map[string][]string{}
	for _, l := range latest {
		datasets[l.AnalysisID] = append(datasets[l.AnalysisID], l.DatasetID)
	}
	ids := sortedKeys(datasets)
	overAll := table == "treatment_results" || table == "comparisons"
	if overAll {
		ids = ids[len(ids)-1:]
	}
	var names map[string]string
	var parts []tablePart
	for _, id := range ids {
		a, err := s.finished(ctx, scope, id)
		if err != nil {
			return nil, err
		}
		p := tablePart{id: id, open: s.opener(c, a, table)}
		if !overAll && len(datasets[id]) < a.Done-a.Failed {
			if p.only, err = s.namesOf(ctx, season.ID, datasets[id], &names); err != nil {
				return nil, err
			}
		}
		parts = append(parts, p)
	}
	return parts, nil
}

// namesOf returns the names of datasets, sorted. It fills known once.
func (s *Server) namesOf(ctx context.Context, season string, ids []string, known *map[string]string) ([]string, error) {
	if *known == nil {
		names, err := s.namesIn(ctx, season)
		if err != nil {
			return nil, err
		}
		*known = names
	}
	out := make([]string, 0, len(ids))
	for _, id := range ids {
		out = append(out, (*known)[id])
	}
	slices.Sort(out)
	return out, nil
}

// namesIn returns the names of the accepted datasets of a season, which result rows
// carry, by id.
func (s *Server) namesIn(ctx context.Context, season string) (map[string]string, error) {
	out := map[string]string{}
	f := store.Filter{Seasons: []string{season}, States: []string{store.DatasetAccepted}}
	for p := (store.Page{Limit: 1000}); ; {
		l, err := s.store.Datasets(ctx, store.Everything, f, p)
		if err != nil {
			return nil, err
		}
		for _, d := range l.Rows {
			out[d.ID] = d.Name
		}
		if p.After = l.Next; !l.More {
			return out, nil
		}
	}
}

// finished returns an analysis that has results, or says why it has none.
func (s *Server) finished(ctx context.Context, scope store.Scope, id string) (store.Analysis, error) {
	a, ok := s.analyses.get(scope, id, s.now())
	if !ok {
		var err error
		if a, err = s.store.Analysis(ctx, scope, id); err != nil {
			return a, err
		}
		s.analyses.put(a, s.now())
	}
	switch a.State {
	case store.AnalysisSuccessful:
		return a, nil
	case store.AnalysisDismissed:
		return a, problem.New(problem.Dismissed, "the analysis was dismissed")
	case store.AnalysisFailed:
		return a, problem.New(problem.StateConflict, "the analysis failed: /v1/analyses/%s says why", a.ID)
	}
	return a, problem.New(problem.StateConflict, "the analysis is not over: /v1/analyses/%s tells how far it is", a.ID)
}

// analyses remembers analyses with results for a moment: only a dismissal changes
// them, and it shows within this time on every node.
type analyses struct {
	mu   sync.Mutex
	byID map[string]remember[store.Analysis]
}

const analysisRemembered = time.Second

func newAnalyses() *analyses { return &analyses{byID: map[string]remember[store.Analysis]{}} }

func (m *analyses) get(scope store.Scope, id string, now time.Time) (store.Analysis, bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	r, ok := m.byID[id]
	seen := scope.All || slices.Contains(scope.Seasons, r.value.SeasonID)
	return r.value, ok && seen && now.Before(r.until)
}

func (m *analyses) put(a store.Analysis, now time.Time) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if len(m.byID) >= most {
		clear(m.byID)
	}
	if a.State == store.AnalysisSuccessful {
		m.byID[a.ID] = remember[store.Analysis]{a, now.Add(analysisRemembered)}
	}
}

func (m *analyses) forget(id string) {
	m.mu.Lock()
	defer m.mu.Unlock()
	delete(m.byID, id)
}
