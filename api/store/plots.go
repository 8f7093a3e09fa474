package store

import (
	"context"
	"fmt"
)

var runList = listing[RunRow]{
	from:    "runs WHERE 1 = 1",
	columns: "id, season_id, COALESCE(event_id, ''), dataset_id, event_name, run, simulator, started, plots, updated_at",
	id:      "id",
	season:  "season_id",
	filters: map[string][]string{
		"seasons": {"season_id"}, "events": {"event_id", "event_name"}, "datasets": {"dataset_id"}, "runs": {"id", "run"},
	},
	at:      "started_at",
	changed: "updated_at",
	sorts:   map[string]sortBy{"run": {column: "run"}, "started": {"COALESCE(started_at, 0)", true}},
	read: func(scan scanner) (r RunRow, err error) {
		return r, scan(&r.ID, &r.SeasonID, &r.EventID, &r.DatasetID, &r.Event, &r.Run, &r.Simulator, &r.Started, &r.Plots, instant{&r.UpdatedAt})
	},
}

// Runs lists runs. Filters: Seasons, Events, Datasets, Runs, From, To,
// ChangedSince. Sorts: id, run, started.
func (r *Reader) Runs(ctx context.Context, s Scope, f Filter, p Page) (List[RunRow], error) {
	return runList.page(ctx, r, s, f, p)
}

// Run returns one run, or ErrNotFound.
func (r *Reader) Run(ctx context.Context, s Scope, id string) (RunRow, error) {
	return runList.get(ctx, r, s, id)
}

var plotList = listing[PlotRow]{
	from: "plots WHERE 1 = 1",
	columns: "id, season_id, COALESCE(event_id, ''), dataset_id, run_id, event_name, run, plot, treatment, treatment_id, block, " +
		"excluded, exclude_reason, revision, updated_at",
	id:     "id",
	season: "season_id",
	filters: map[string][]string{
		"seasons": {"season_id"}, "events": {"event_id", "event_name"}, "datasets": {"dataset_id"}, "runs": {"run_id", "run"},
		"plots": {"id", "plot"}, "treatments": {"treatment_id", "treatment"},
	},
	changed: "updated_at",
	sorts:   map[string]sortBy{"plot": {column: "plot"}, "treatment": {column: "treatment"}},
	read: func(scan scanner) (p PlotRow, err error) {
		return p, scan(&p.ID, &p.SeasonID, &p.EventID, &p.DatasetID, &p.RunID, &p.Event, &p.Run, &p.Plot, &p.Treatment, &p.TreatmentID, &p.Block,
			&p.Excluded, &p.ExcludeReason, &p.Revision, instant{&p.UpdatedAt})
	},
}

// Plots lists plots. Filters: Seasons, Events, Datasets, Runs, Plots, Treatments,
// ChangedSince. Sorts: id, plot, treatment.
func (r *Reader) Plots(ctx context.Context, s Scope, f Filter, p Page) (List[PlotRow], error) {
	return plotList.page(ctx, r, s, f, p)
}

// Plot returns one plot, or ErrNotFound.
func (r *Reader) Plot(ctx context.Context, s Scope, id string) (PlotRow, error) {
	return plotList.get(ctx, r, s, id)
}

// ExcludePlot leaves a plot out of analyses to come, with a reason, or takes it in
// again. Errors: ErrNotFound, ErrRevision.
func (t *Tx) ExcludePlot(ctx context.Context, s Scope, id string, revision int64, excluded bool, reason string) (PlotRow, error) {
	q := statement{}
	q.add("UPDATE plots SET excluded = ?, exclude_reason = ?, ", excluded, reason)
	q.revise(t.now())
	if err := changeOne(ctx, t, &plotList, s, q, id, revision); err != nil {
		return PlotRow{}, fmt.Errorf("exclude the plot: %w", err)
	}
	return t.Plot(ctx, s.owned(), id)
}

var treatmentList = listing[Treatment]{
	from: "plots WHERE 1 = 1",
	columns: "treatment_id, season_id, treatment, COUNT(*), SUM(CASE WHEN excluded THEN 1 ELSE 0 END), " +
		"COUNT(DISTINCT run_id), COUNT(DISTINCT dataset_id)",
	group:  "GROUP BY treatment_id, season_id, treatment",
	id:     "treatment_id",
	season: "season_id",
	filters: map[string][]string{
		"seasons": {"season_id"}, "events": {"event_id", "event_name"}, "datasets": {"dataset_id"}, "treatments": {"treatment_id", "treatment"},
	},
	sorts: map[string]sortBy{"name": {column: "treatment"}},
	read: func(scan scanner) (t Treatment, err error) {
		return t, scan(&t.ID, &t.SeasonID, &t.Name, &t.Plots, &t.Excluded, &t.Runs, &t.Datasets)
	},
}

// Treatments lists the treatments of seasons. Filters: Seasons, Events, Datasets,
// Treatments. Sorts: id, name.
func (r *Reader) Treatments(ctx context.Context, s Scope, f Filter, p Page) (List[Treatment], error) {
	return treatmentList.page(ctx, r, s, f, p)
}

// Treatment returns one treatment, or ErrNotFound.
func (r *Reader) Treatment(ctx context.Context, s Scope, id string) (Treatment, error) {
	return treatmentList.get(ctx, r, s, id)
}

var calibrationList = listing[CalibrationRow]{
	from:    "calibrations WHERE 1 = 1",
	columns: "id, season_id, COALESCE(event_id, ''), dataset_id, calibration, simulator, calibration_date, cans, updated_at",
	id:      "id",
	season:  "season_id",
	filters: map[string][]string{"seasons": {"season_id"}, "events": {"event_id"}, "datasets": {"dataset_id"}},
	at:      "date_at",
	changed: "updated_at",
	sorts:   map[string]sortBy{"date": {column: "calibration_date"}, "simulator": {column: "simulator"}},
	read: func(scan scanner) (c CalibrationRow, err error) {
		return c, scan(&c.ID, &c.SeasonID, &c.EventID, &c.DatasetID, &c.Calibration, &c.Simulator, &c.Date, &c.Cans, instant{&c.UpdatedAt})
	},
}

// Calibrations lists calibrations. Filters: Seasons, Events (by id), Datasets, From,
// To, ChangedSince. Sorts: id, date, simulator.
func (r *Reader) Calibrations(ctx context.Context, s Scope, f Filter, p Page) (List[CalibrationRow], error) {
	return calibrationList.page(ctx, r, s, f, p)
}

// Calibration returns one calibration, or ErrNotFound.
func (r *Reader) Calibration(ctx context.Context, s Scope, id string) (CalibrationRow, error) {
	return calibrationList.get(ctx, r, s, id)
}
