package cli

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync/atomic"

	"golang.org/x/sync/errgroup"

	"sheetwash/analysis"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/rainfall"
	"sheetwash/analysis/result"
	"sheetwash/ingest"
	"sheetwash/ingest/check"
	"sheetwash/ingest/issue"
)

// inputs says where a season is and how it is read.
type inputs struct {
	paths    []string
	mapping  string
	jobs     int
	settings []setting
}

// dataset is what became of one dataset.
type dataset struct {
	*experiment.Dataset // nil: refused
	name, digest        string
	settings            ingest.Settings
	needsCalibration    []string // runs whose intensity only catch cans of the season can tell
}

// season is a season that has been read: its datasets in the order of their
// names and everything that the checks found.
type season struct {
	datasets []dataset
	findings []result.Finding
}

// refused counts the datasets with errors.
func (r *season) refused() int {
	n := 0
	for _, d := range r.datasets {
		if d.Dataset == nil {
			n++
		}
	}
	return n
}

// exit is 0 where every dataset stands, 3 where none does, 4 otherwise. That
// nothing was found is a refusal too.
func (r *season) exit() int {
	switch r.refused() {
	case 0:
		if len(r.datasets) == 0 {
			return exitRefused
		}
		return exitDone
	case len(r.datasets):
		return exitRefused
	}
	return exitPartly
}

// accepted returns the datasets that stand.
func (r *season) accepted() []*experiment.Dataset {
	var out []*experiment.Dataset
	for _, d := range r.datasets {
		if d.Dataset != nil {
			out = append(out, d.Dataset)
		}
	}
	return out
}

// readSeason finds and reads every dataset, several at a time. step is called
// with the number of datasets read so far, and how many there are.
func readSeason(ctx context.Context, s *streams, in inputs, step func(done, total int)) (*season, error) {
	sources, unclaimed, err := ingest.Find(in.paths, ingest.FindOptions{Stdin: s.in, Mapping: in.mapping})
	if err != nil {
		return nil, err
	}
	defer closeAll(sources)
	sources, own := withoutResults(sources)
	out := &season{datasets: make([]dataset, len(sources)), findings: append(rows("", unclaimed.All()), own...)}
	found := make([][]result.Finding, len(sources))
	var done atomic.Int64
	step(0, len(sources))
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(in.jobs)
	for i, src := range sources {
		g.Go(func() error {
			var err error
			out.datasets[i], found[i], err = in.read(ctx, src)
			step(int(done.Add(1)), len(sources))
			return err
		})
	}
	if err := g.Wait(); err != nil {
		return nil, err
	}
	refuseUncalibrated(out.datasets, found)
	for _, f := range found {
		out.findings = append(out.findings, f...)
	}
	return out, nil
}

func closeAll(sources []ingest.Source) {
	for _, src := range sources {
		_ = src.Close() // only removes a temporary copy
	}
}

// withoutResults leaves out the folders that hold result tables of ours, which may
// well lie below the folder of the data, and notes each.
func withoutResults(sources []ingest.Source) (data []ingest.Source, notes []result.Finding) {
	for _, src := range sources {
		if !holdsTable(src, "hydrograph") || !holdsTable(src, "plot_results") {
			data = append(data, src)
			continue
		}
		notes = append(notes, rows(src.Name, []issue.Issue{{
			Code: datasetResults, Severity: issue.Note, Message: "this folder holds result tables and is not read as data",
		}})...)
	}
	return data, notes
}

func holdsTable(src ingest.Source, table string) bool {
	return slices.ContainsFunc(src.Files(), func(name string) bool { return strings.HasPrefix(name, table+".") })
}

// read reads one dataset. A dataset that the disk does not give is refused, and
// the others are read; the error is that of ctx.
func (in inputs) read(ctx context.Context, src ingest.Source) (dataset, []result.Finding, error) {
	d := dataset{name: src.Name}
	r, err := ingest.Read(ctx, src, ingest.Options{Workers: in.jobs, Mapping: in.mapping})
	switch {
	case ctx.Err() != nil:
		return d, nil, ctx.Err()
	case err != nil:
		return d, rows(src.Name, []issue.Issue{{Code: datasetUnreadable, Severity: issue.Error, Message: "the dataset cannot be read: " + err.Error()}}), nil
	}
	d.digest, d.settings, d.needsCalibration = r.Digest, r.Settings, r.NeedsCalibration
	if r.Dataset != nil {
		if d.Dataset, err = applySettings(r.Dataset, in.settings); err != nil {
			return d, nil, err
		}
	}
	return d, rows(src.Name, r.Issues), nil
}

// refuseUncalibrated refuses the datasets with a plot whose rain no catch cans of
// the season tell. That can be judged only when the whole season has been read.
func refuseUncalibrated(datasets []dataset, found [][]result.Finding) {
	var all []*experiment.Dataset
	for _, d := range datasets {
		if d.Dataset != nil {
			all = append(all, d.Dataset)
		}
	}
	calibrations := analysis.Calibrations(all)
	for i := range datasets {
		d := &datasets[i]
		if d.Dataset == nil || len(d.needsCalibration) == 0 {
			continue
		}
		var missing []issue.Issue
		for r := range d.Runs() {
			run := &d.Runs()[r]
			if !slices.Contains(d.needsCalibration, run.ID) {
				continue
			}
			for p := range run.Plots {
				if _, ok := rainfall.ForPlot(d.name, run, &run.Plots[p], calibrations, d.Errors()); !ok {
					missing = append(missing, withoutRain(run, &run.Plots[p]))
				}
			}
		}
		if len(missing) > 0 {
			found[i] = append(found[i], rows(d.name, missing)...)
			d.Dataset = nil
		}
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
