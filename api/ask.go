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
	"sheetwash/api/store"
	"sheetwash/api/wire"
)

// wantedAnalysis is an analysis that a caller asks for.
type wantedAnalysis struct {
	body     []byte
	season   string
	datasets []string
	settings json.RawMessage
	made     store.Analysis // once it is
}

// wantedAnalysis reads what is asked for, and refuses what cannot be.
func (s *Server) wantedAnalysis(c *gin.Context) (*wantedAnalysis, error) {
	var in wire.NewAnalysis
	body, err := s.readJSON(c, mediaJSON, &in)
	if err != nil {
		return nil, err
	}
	w := &wantedAnalysis{body: body}
	if w.settings, err = s.properSettings(in.Parameters); err != nil {
		return nil, err
	}
	if w.season, w.datasets, err = s.datasetsOf(c.Request.Context(), whoIs(c).scope, in); err != nil {
		return nil, err
	}
	return w, s.fewRuns(c.Request.Context(), w.season, w.datasets)
}

// submit writes an analysis, puts it into the queue and says what is answered.
func (s *Server) submit(c *gin.Context, tx *store.Tx, w *wantedAnalysis) (answer, error) {
	ctx, who := c.Request.Context(), whoIs(c)
	waiting, err := tx.QueuedAnalyses(ctx, who.signed())
	if err != nil {
		return answer{}, err
	}
	if l := s.limits.QueuedAnalyses; l > 0 && waiting >= l && who.id != operator {
		return answer{}, problem.New(problem.QuotaReached, "%d analyses of this caller are not over; %d are allowed", waiting, l)
	}
	a := store.Analysis{SeasonID: w.season, Parameters: w.settings, CreatedBy: who.signed()}
	if a, err = tx.CreateAnalysis(ctx, who.scope, a, w.datasets); err != nil {
		return answer{}, err
	}
	if err := s.jobs.Submit(ctx, tx, a); err != nil {
		return answer{}, err
	}
	w.made = a
	header := map[string]string{"Location": "/v1/analyses/" + a.ID, "Retry-After": "1"}
	return answer{http.StatusAccepted, header, showAnalysis(a)}, s.note(c, tx, audit{"analysis.create", a.SeasonID, a.ID, strconv.Itoa(len(w.datasets)) + " datasets"})
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

// fewRuns refuses an analysis of more runs than are allowed at once.
func (s *Server) fewRuns(ctx context.Context, season string, ids []string) error {
	wanted, n := map[string]bool{}, 0
	for _, id := range ids {
		wanted[id] = true
	}
	for p := (store.Page{Limit: 1000}); s.limits.AnalysisRuns > 0; {
		l, err := s.store.Runs(ctx, store.Everything, store.Filter{Seasons: []string{season}}, p)
		if err != nil {
			return err
		}
		for _, r := range l.Rows {
			if wanted[r.DatasetID] {
				n++
			}
		}
		if n > s.limits.AnalysisRuns {
			return problem.New(problem.MalformedRequest, "the datasets have more than %d runs; analyse fewer at once, or use the command line", s.limits.AnalysisRuns)
		}
		if p.After = l.Next; !l.More {
			return nil
		}
	}
	return nil
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
