package check

import (
	"sheetwash/ingest/issue"
)

// uniqueKeys reports runs and plots that stand in two rows, at the second.
func uniqueKeys(d *Draft, into *issue.List) {
	run := d.Runs.Column("run")
	first := map[string]int{}
	for i := range d.Runs.N {
		w := run.Word(i)
		if w == "" {
			continue
		}
		if j, twice := first[w]; twice {
			report(into, RunDuplicate, d.Runs, i, "run", "run %q already stands in row %d: give each application of rain its own identifier", w, d.Runs.Row(j))
			continue
		}
		first[w] = i
	}

	type key struct{ run, plot string }
	seen := map[key]int{}
	run, plot := d.Plots.Column("run"), d.Plots.Column("plot")
	for i := range d.Plots.N {
		k := key{run.Word(i), plot.Word(i)}
		if k.run == "" || k.plot == "" {
			continue
		}
		if j, twice := seen[k]; twice {
			report(into, PlotDuplicate, d.Plots, i, "plot", "plot %q of run %q already stands in row %d: a plot stands once per run", k.plot, k.run, d.Plots.Row(j))
			continue
		}
		seen[k] = i
	}
}

// references reports plots, samples and readings that name a run or a plot
// that does not exist, and runs that nothing names.
func references(d *Draft, into *issue.List) {
	used := make([]bool, d.Runs.N)
	run := d.Plots.Column("run")
	for i, r := range d.Links.RunOfPlot {
		if r >= 0 {
			used[r] = true
		} else if run.Has(i) && !d.Broken["runs"] {
			report(into, RunUnknown, d.Plots, i, "run", "run %q is not in the table of runs: correct the identifier or add the run", run.Word(i))
		}
	}
	seen := map[int32]bool{}
	for i, u := range used {
		id := d.Runs.Column("run")
		if !id.Has(i) || seen[id.Code[i]] {
			continue // said already, or of the first row of the run
		}
		seen[id.Code[i]] = true
		if w := id.Word(i); !u && w != "" && d.Plots.N > 0 && !d.Broken["plots"] {
			report(into, RunNoPlots, d.Runs, i, "run", "run %q has no plot: add its plots or delete the run", w)
		}
	}
	sampleReferences(d, into)
	loggedReferences(d, into)
}

func sampleReferences(d *Draft, into *issue.List) {
	f := d.Samples
	run, plot, stream := f.Column("run"), f.Column("plot"), f.Column("stream")
	for i := range f.N {
		switch {
		case !run.Has(i):
		case d.Links.RunOfSample(i) < 0 && d.Broken["runs"]:
		case d.Links.RunOfSample(i) < 0:
			report(into, RunUnknown, f, i, "run", "run %q is not in the table of runs: correct the identifier or add the run", run.Word(i))
		case d.Links.PlotOfSample[i] < 0 && plot.Has(i) && stream.Word(i) != "blank" && !d.Broken["plots"]:
			report(into, PlotUnknown, f, i, "plot", "run %q has no plot %q: correct the identifier or add the plot", run.Word(i), plot.Word(i))
		}
	}
}

func loggedReferences(d *Draft, into *issue.List) {
	for i, r := range d.Readings {
		is := issue.Issue{Severity: issue.Error, File: r.Series.Place.File, Table: "readings", Row: r.Row}
		switch {
		case d.Links.RunOfLogged[i] < 0 && d.Broken["runs"]:
			continue
		case d.Links.RunOfLogged[i] < 0:
			is.Code, is.Column, is.Value = RunUnknown, "run", r.Run
			is.Message = "run " + quote(r.Run) + " is not in the table of runs: correct the identifier or add the run"
		case d.Links.PlotOfLogged[i] < 0 && r.Plot != "" && !d.Broken["plots"]:
			is.Code, is.Column, is.Value = PlotUnknown, "plot", r.Plot
			is.Message = "run " + quote(r.Run) + " has no plot " + quote(r.Plot) + ": correct the identifier or add the plot"
		default:
			continue
		}
		into.Add(is)
	}
}

func quote(s string) string { return "\"" + issue.Clip(s) + "\"" }
