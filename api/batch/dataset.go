package batch

import (
	"context"
	"fmt"
	"slices"

	"sheetwash/analysis"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/rainfall"
	"sheetwash/analysis/result"
	"sheetwash/ingest"
	"sheetwash/ingest/check"
	"sheetwash/ingest/issue"
)

// Dataset is what became of one dataset.
type Dataset struct {
	*experiment.Dataset // nil: refused
	Name, Digest        string
	Settings            ingest.Settings
	NeedsCalibration    []string // runs whose intensity only catch cans of the season can tell
	Findings            []result.Finding
	Excluded            []Exclusion // by a request, besides those of the files
}

// Stands reports whether the dataset can be analyzed.
func (d *Dataset) Stands() bool { return d.Dataset != nil }

// Read reads and checks one dataset. One that the disk does not give is refused
// like one with errors; the error is that of ctx.
func (q Request) Read(ctx context.Context, src ingest.Source) (Dataset, error) {
	d := Dataset{Name: src.Name}
	r, err := ingest.Read(ctx, src, ingest.Options{Workers: max(1, q.Workers), Mapping: q.Mapping, MaxRows: q.MaxRows, Limits: q.Limits, Zone: q.Zone, Checks: q.Checks})
	switch {
	case ctx.Err() != nil:
		return d, ctx.Err()
	case err != nil:
		d.Findings = rows(src.Name, []issue.Issue{{Code: datasetUnreadable, Severity: issue.Error, Message: "the dataset cannot be read: " + err.Error()}})
		return d, nil
	}
	d.Digest, d.Settings, d.NeedsCalibration = r.Digest, r.Settings, r.NeedsCalibration
	if r.Dataset != nil {
		if d.Dataset, err = withErrors(r.Dataset, q.Errors); err != nil {
			return d, err
		}
	}
	d.Findings = rows(src.Name, r.Issues)
	return d, nil
}

// Calibrations gathers the catch-can calibrations of the datasets that stand.
func Calibrations(datasets []Dataset) []rainfall.Calibration {
	var all []*experiment.Dataset
	for i := range datasets {
		if datasets[i].Stands() {
			all = append(all, datasets[i].Dataset)
		}
	}
	return analysis.Calibrations(all)
}

// RefuseUncalibrated refuses the dataset where no catch cans of the season tell the
// rain of a plot that states none. That can be judged only when the whole season
// has been read.
func (d *Dataset) RefuseUncalibrated(calibrations []rainfall.Calibration) {
	if !d.Stands() || len(d.NeedsCalibration) == 0 {
		return
	}
	var missing []issue.Issue
	for r := range d.Runs() {
		run := &d.Runs()[r]
		if !slices.Contains(d.NeedsCalibration, run.ID) {
			continue
		}
		for p := range run.Plots {
			if _, ok := rainfall.ForPlot(d.Name, run, &run.Plots[p], calibrations, d.Errors()); !ok {
				missing = append(missing, withoutRain(run, &run.Plots[p]))
			}
		}
	}
	if len(missing) > 0 {
		d.Findings = append(d.Findings, rows(d.Name, missing)...)
		d.Dataset = nil
	}
}

func withoutRain(run *experiment.Run, p *experiment.Plot) issue.Issue {
	return issue.Issue{
		Code: check.PlotNoIntensity, Severity: issue.Error, File: p.Place.File, Table: "plots", Row: p.Place.Row, Column: "intensity",
		Message: fmt.Sprintf("no rain intensity is known for this plot: the season has no catch cans of simulator %q up to that day; fill in intensity of the run or the plot, or add the cans", run.Simulator),
	}
}

// The codes of findings that only the command line can have.
const (
	datasetUnreadable issue.Code = "dataset.unreadable" // the disk or the system fails to give it
	datasetResults    issue.Code = "dataset.results"    // it is what an analysis wrote
)

// rows turns the issues of a dataset into rows of the findings table.
func rows(dataset string, issues []issue.Issue) []result.Finding {
	var out []result.Finding
	for _, i := range issues {
		out = append(out, result.Finding{
			Dataset: dataset, Code: string(i.Code), Severity: i.Severity.String(), File: i.File, Table: i.Table,
			Row: i.Row, Column: i.Column, Value: i.Value, Message: i.Message,
		})
	}
	return out
}
