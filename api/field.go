package api

import (
	"net/url"
	"strings"

	"github.com/gin-gonic/gin"

	"sheetwash/api/problem"
	"sheetwash/api/store"
	"sheetwash/api/wire"
)

func showRun(r store.RunRow) wire.Run {
	return wire.Run{
		ID: r.ID, SeasonID: r.SeasonID, EventID: maybe(r.EventID), DatasetID: r.DatasetID, Event: r.Event, Run: r.Run,
		Simulator: maybe(r.Simulator), Started: maybe(r.Started), Plots: r.Plots,
		Links: wire.Links{"self": "/v1/runs/" + r.ID, "dataset": "/v1/datasets/" + r.DatasetID, "plots": "/v1/plots?run=" + r.ID, "page": "/seasons/" + r.SeasonID + "/run?dataset=" + r.DatasetID + "&run=" + url.QueryEscape(r.Run)},
	}
}

func showPlot(r store.PlotRow) wire.Plot {
	return wire.Plot{
		ID: r.ID, SeasonID: r.SeasonID, EventID: maybe(r.EventID), DatasetID: r.DatasetID, RunID: r.RunID, Event: r.Event, Run: r.Run,
		Plot: r.Plot, Treatment: r.Treatment, TreatmentID: r.TreatmentID, Block: maybe(r.Block),
		Excluded: r.Excluded, ExcludeReason: maybe(r.ExcludeReason), Revision: r.Revision,
		Links: wire.Links{"self": "/v1/plots/" + r.ID, "run": "/v1/runs/" + r.RunID, "treatment": "/v1/treatments/" + r.TreatmentID},
	}
}

func showTreatment(r store.Treatment) wire.Treatment {
	return wire.Treatment{
		ID: r.ID, SeasonID: r.SeasonID, Name: r.Name, Plots: r.Plots, Excluded: r.Excluded, Runs: r.Runs, Datasets: r.Datasets,
		Links: wire.Links{"self": "/v1/treatments/" + r.ID, "plots": "/v1/plots?treatment=" + r.ID},
	}
}

func showCalibration(r store.CalibrationRow) wire.Calibration {
	return wire.Calibration{
		ID: r.ID, SeasonID: r.SeasonID, EventID: maybe(r.EventID), DatasetID: r.DatasetID, Calibration: r.Calibration,
		Simulator: maybe(r.Simulator), Date: maybe(r.Date), Cans: r.Cans,
		Links: wire.Links{"self": "/v1/calibrations/" + r.ID, "dataset": "/v1/datasets/" + r.DatasetID},
	}
}

// listRuns lists runs.
//
//	@Summary  List runs
//	@Tags     runs
//	@Produce  json
//	@Param    season  query  []string  false  "ids or names of seasons"  collectionFormat(multi)
//	@Param    event  query  []string  false  "ids or names of events"  collectionFormat(multi)
//	@Param    dataset  query  []string  false  "ids of datasets"  collectionFormat(multi)
//	@Param    run  query  []string  false  "ids or names of runs"  collectionFormat(multi)
//	@Param    from  query  string  false  "date or time, inclusive"
//	@Param    to  query  string  false  "date or time, exclusive"
//	@Param    changed_since  query  string  false  "date or time"
//	@Param    limit   query  int     false  "1 to 1000, default 100"
//	@Param    cursor  query  string  false  "from next_cursor"
//	@Param    sort    query  string  false  "id, run, started; - in front: descending"
//	@Success  200  {object}  wire.List[wire.Run]
//	@Failure  400  {object}  problem.Details
//	@Router   /v1/runs [get]
func (s *Server) listRuns(c *gin.Context) error { return listRecords(s, c, s.store.Runs, showRun) }

// getRun returns one run.
//
//	@Summary  One run
//	@Tags     runs
//	@Produce  json
//	@Param    id   path      string  true  "id of the run"
//	@Success  200  {object}  wire.Run
//	@Failure  404  {object}  problem.Details
//	@Router   /v1/runs/{id} [get]
func (s *Server) getRun(c *gin.Context) error { return oneRecord(s, c, s.store.Run, showRun) }

// listPlots lists plots.
//
//	@Summary  List plots
//	@Tags     plots
//	@Produce  json
//	@Param    season  query  []string  false  "ids or names of seasons"  collectionFormat(multi)
//	@Param    event  query  []string  false  "ids or names of events"  collectionFormat(multi)
//	@Param    dataset  query  []string  false  "ids of datasets"  collectionFormat(multi)
//	@Param    run  query  []string  false  "ids or names of runs"  collectionFormat(multi)
//	@Param    plot  query  []string  false  "ids or names of plots"  collectionFormat(multi)
//	@Param    treatment  query  []string  false  "ids or names of treatments"  collectionFormat(multi)
//	@Param    changed_since  query  string  false  "date or time"
//	@Param    limit   query  int     false  "1 to 1000, default 100"
//	@Param    cursor  query  string  false  "from next_cursor"
//	@Param    sort    query  string  false  "id, plot, treatment; - in front: descending"
//	@Success  200  {object}  wire.List[wire.Plot]
//	@Failure  400  {object}  problem.Details
//	@Router   /v1/plots [get]
func (s *Server) listPlots(c *gin.Context) error { return listRecords(s, c, s.store.Plots, showPlot) }

// getPlot returns one plot.
//
//	@Summary  One plot
//	@Tags     plots
//	@Produce  json
//	@Param    id   path      string  true  "id of the plot"
//	@Success  200  {object}  wire.Plot
//	@Failure  404  {object}  problem.Details
//	@Router   /v1/plots/{id} [get]
func (s *Server) getPlot(c *gin.Context) error { return oneRecord(s, c, s.store.Plot, showPlot) }

// listTreatments lists treatments.
//
//	@Summary  List treatments
//	@Tags     treatments
//	@Produce  json
//	@Param    season  query  []string  false  "ids or names of seasons"  collectionFormat(multi)
//	@Param    event  query  []string  false  "ids or names of events"  collectionFormat(multi)
//	@Param    dataset  query  []string  false  "ids of datasets"  collectionFormat(multi)
//	@Param    treatment  query  []string  false  "ids or names of treatments"  collectionFormat(multi)
//	@Param    limit   query  int     false  "1 to 1000, default 100"
//	@Param    cursor  query  string  false  "from next_cursor"
//	@Param    sort    query  string  false  "id, name; - in front: descending"
//	@Success  200  {object}  wire.List[wire.Treatment]
//	@Failure  400  {object}  problem.Details
//	@Router   /v1/treatments [get]
func (s *Server) listTreatments(c *gin.Context) error {
	return listRecords(s, c, s.store.Treatments, showTreatment)
}

// getTreatment returns one treatment.
//
//	@Summary  One treatment
//	@Tags     treatments
//	@Produce  json
//	@Param    id   path      string  true  "id of the treatment"
//	@Success  200  {object}  wire.Treatment
//	@Failure  404  {object}  problem.Details
//	@Router   /v1/treatments/{id} [get]
func (s *Server) getTreatment(c *gin.Context) error {
	return oneRecord(s, c, s.store.Treatment, showTreatment)
}

// listCalibrations lists calibrations.
//
//	@Summary  List calibrations
//	@Tags     calibrations
//	@Produce  json
//	@Param    season  query  []string  false  "ids or names of seasons"  collectionFormat(multi)
//	@Param    event  query  []string  false  "ids or names of events"  collectionFormat(multi)
//	@Param    dataset  query  []string  false  "ids of datasets"  collectionFormat(multi)
//	@Param    from  query  string  false  "date or time, inclusive"
//	@Param    to  query  string  false  "date or time, exclusive"
//	@Param    changed_since  query  string  false  "date or time"
//	@Param    limit   query  int     false  "1 to 1000, default 100"
//	@Param    cursor  query  string  false  "from next_cursor"
//	@Param    sort    query  string  false  "id, date, simulator; - in front: descending"
//	@Success  200  {object}  wire.List[wire.Calibration]
//	@Failure  400  {object}  problem.Details
//	@Router   /v1/calibrations [get]
func (s *Server) listCalibrations(c *gin.Context) error {
	return listRecords(s, c, s.store.Calibrations, showCalibration)
}

// getCalibration returns one calibration.
//
//	@Summary  One calibration
//	@Tags     calibrations
//	@Produce  json
//	@Param    id   path      string  true  "id of the calibration"
//	@Success  200  {object}  wire.Calibration
//	@Failure  404  {object}  problem.Details
//	@Router   /v1/calibrations/{id} [get]
func (s *Server) getCalibration(c *gin.Context) error {
	return oneRecord(s, c, s.store.Calibration, showCalibration)
}

// patchPlot sets a plot aside, or takes it in again.
//
//	@Summary      Set a plot aside, with the reason, or take it in again
//	@Description  Analyses to come follow it; finished ones stay as they are.
//	@Tags         plots
//	@Accept       application/merge-patch+json
//	@Produce      json
//	@Param        id        path    string          true  "id of the plot"
//	@Param        If-Match  header  string          true  "ETag of the plot"
//	@Param        plot      body    wire.PlotPatch  true  "excluded, and why"
//	@Success      200  {object}  wire.Plot
//	@Failure      412  {object}  problem.Details
//	@Router       /v1/plots/{id} [patch]
func (s *Server) patchPlot(c *gin.Context) error {
	var in wire.PlotPatch
	if _, err := s.readJSON(c, mediaPatch, &in); err != nil {
		return err
	}
	return edited(s, c, (*store.Tx).Plot, showPlot, func(tx *store.Tx, r store.PlotRow) (store.PlotRow, audit, error) {
		excluded, reason, err := properExclusion(in.Excluded.Over(r.Excluded), in.ExcludeReason.Over(r.ExcludeReason))
		if err == nil {
			r, err = tx.ExcludePlot(c.Request.Context(), whoIs(c).scope, r.ID, r.Revision, excluded, reason)
		}
		return r, audit{"plot.exclude", r.SeasonID, r.ID, reason}, err
	})
}

// properExclusion wants a reason from who sets a plot aside.
func properExclusion(excluded bool, reason string) (bool, string, error) {
	switch {
	case !excluded:
		return false, "", nil
	case strings.TrimSpace(reason) == "":
		return false, "", problem.New(problem.MalformedRequest, "exclude_reason is missing: say why the plot is set aside")
	}
	return true, reason, properName("exclude_reason", reason, true)
}
