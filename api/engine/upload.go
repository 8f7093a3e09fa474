package engine

import (
	"bytes"
	"cmp"
	"context"
	"encoding/gob"
	"encoding/json"
	"time"

	"sheetwash/analysis"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/rainfall"
	"sheetwash/analysis/result"
	"sheetwash/api"
	"sheetwash/api/batch"
	"sheetwash/api/problem"
	"sheetwash/api/store"
	"sheetwash/ingest"
)

// Check reads an upload and says what is wrong with it. Errors: problem.Error, for
// a time zone that does not exist; those of the disk and of ctx.
func (e *Engine) Check(ctx context.Context, u api.Upload) (*api.Checked, error) {
	defer e.thrift.begin(u)()
	_, d, err := e.readUpload(ctx, u, nil, true)
	if err != nil {
		return nil, err
	}
	return checked(&d)
}

// Analyse computes the results of one upload, whose rain its own catch cans tell.
// Where the checks find errors there is no analysis.
func (e *Engine) Analyse(ctx context.Context, u api.Upload, parameters json.RawMessage) (*api.Checked, *result.Analysis, error) {
	q, d, err := e.readUpload(ctx, u, parameters, false)
	if err != nil {
		return nil, nil, err
	}
	calibrations := batch.Calibrations([]batch.Dataset{d})
	d.RefuseUncalibrated(calibrations)
	c, err := checked(&d)
	if err != nil || !d.Stands() {
		return c, nil, err
	}
	part, err := q.Analyse(ctx, &d, calibrations)
	if err != nil {
		return nil, nil, err
	}
	a, err := folded(q, []analysis.Part{part}, d.Findings)
	return c, a, err
}

// readUpload reads the dataset of an upload; checks says that its bottles are not wanted.
func (e *Engine) readUpload(ctx context.Context, u api.Upload, parameters json.RawMessage, checks bool) (batch.Request, batch.Dataset, error) {
	q, err := e.request(parameters, u.Zone)
	if err != nil {
		return q, batch.Dataset{}, err
	}
	q.Checks = checks
	var files []ingest.File
	for _, f := range u.Files {
		files = append(files, ingest.File{Name: f.Name, Path: f.Path})
	}
	d, err := q.ReadFiles(ctx, u.Name, files)
	if err == nil {
		err = limits(d.Findings)
	}
	return q, d, err
}

// limits tells findings of files that are too large by the code of their limit,
// which is another thing than data with faults.
func limits(list []result.Finding) error {
	codes := map[string]problem.Code{
		"zip.bomb": problem.ExpandsTooFar, "file.too_large": problem.ExpandsTooFar,
		string(ingest.TableTooLarge): problem.TooManyRows, string(ingest.TableTooWide): problem.TooManyColumns,
	}
	for _, f := range list {
		if code, ok := codes[f.Code]; ok {
			e := problem.New(code, "%s", f.Message)
			e.Findings, e.FindingsTotal = findings([]result.Finding{f}), 1
			return e
		}
	}
	return nil
}

// checked tells what became of a dataset.
func checked(d *batch.Dataset) (*api.Checked, error) {
	c := &api.Checked{Findings: findings(d.Findings)}
	for _, f := range d.Findings {
		switch f.Severity {
		case "error":
			c.Counts.Errors++
		case "warning":
			c.Counts.Warnings++
		default:
			c.Counts.Notes++
		}
	}
	if !d.Stands() {
		return c, nil
	}
	c.Rows = rowsOf(d)
	if cans := d.Cans(); len(cans) > 0 {
		var b bytes.Buffer
		if err := gob.NewEncoder(&b).Encode(cans); err != nil {
			return nil, err
		}
		c.Calibrations = b.Bytes()
	}
	return c, nil
}

// rowsOf lists the runs, plots and calibrations of a dataset for the records.
func rowsOf(d *batch.Dataset) store.DatasetRows {
	var out store.DatasetRows
	for i := range d.Runs() {
		run := &d.Runs()[i]
		r := store.RunRow{ID: store.NewID(), Event: run.Event, Run: run.ID, Simulator: run.Simulator, Started: stamp(run.Started), Plots: len(run.Plots)}
		out.Runs = append(out.Runs, r)
		for k := range run.Plots {
			p := &run.Plots[k]
			out.Plots = append(out.Plots, store.PlotRow{
				ID: store.NewID(), RunID: r.ID, Event: run.Event, Run: run.ID, Plot: p.ID, Treatment: p.Treatment,
				Block: cmp.Or(p.Block, run.ID), Excluded: p.Exclude, ExcludeReason: p.ExcludeReason,
			})
		}
	}
	cans := map[string]int{}
	for _, can := range d.Cans() {
		cans[can.Calibration]++
	}
	for _, c := range rainfall.Calibrations(d.Name, d.Cans()) {
		row := store.CalibrationRow{ID: store.NewID(), Calibration: c.ID, Simulator: c.Simulator, Cans: cans[c.ID]}
		if !c.Date.IsZero() {
			row.Date = c.Date.Format(time.DateOnly)
		}
		out.Calibrations = append(out.Calibrations, row)
	}
	return out
}

// stamp writes the start of a run; midnight stands for a date without a time.
func stamp(t time.Time) string {
	switch hour, minute, second := t.Clock(); {
	case t.IsZero():
		return ""
	case hour == 0 && minute == 0 && second == 0: // of its own zone
		return t.Format(time.DateOnly)
	}
	return t.Format(time.RFC3339)
}

// cans reads what Check kept of the catch cans of a dataset.
func cans(data []byte) ([]experiment.Can, error) {
	var out []experiment.Can
	err := gob.NewDecoder(bytes.NewReader(data)).Decode(&out)
	return out, err
}
