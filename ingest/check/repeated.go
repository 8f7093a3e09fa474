package check

import "sheetwash/ingest/issue"

// repeatedPlots reports plots that stand under two runs of one event and do not
// say whether the soil is the same. It is taken to be: repeated runs on one
// body of soil are never replicates.
func repeatedPlots(d *Draft, into *issue.List) {
	type key struct{ event, plot string }
	first := map[key]int{}
	event, plot := d.Runs.Column("event"), d.Plots.Column("plot")
	unit := d.Plots.Column("experimental_unit")
	for i, r := range d.Links.RunOfPlot {
		if r < 0 || !plot.Has(i) {
			continue
		}
		k := key{event.Word(int(r)), plot.Word(i)}
		j, seen := first[k]
		if !seen {
			first[k] = i
			continue
		}
		if d.Links.RunOfPlot[j] == r || (unit.Has(i) && unit.Has(j)) {
			continue
		}
		report(into, PlotRepeated, d.Plots, i, "plot", "plot %q also stands under run %q of the same event (row %d) and is taken for the same soil: fill in experimental_unit to say so, or different words if it is not",
			k.plot, d.Plots.Column("run").Word(j), d.Plots.Row(j))
	}
}

// ExperimentalUnit returns the body of soil of plot row i: as given, or event
// and plot where the plot stands under several runs of the event, or "".
func ExperimentalUnit(d *Draft, shared map[string]bool, i int) string {
	if w := d.Plots.Column("experimental_unit").Word(i); w != "" {
		return w
	}
	if u := eventAndPlot(d, i); shared[u] {
		return u
	}
	return ""
}

// SharedUnits returns the names, event/plot, of plots that stand under more than one run of an event.
func SharedUnits(d *Draft) map[string]bool {
	run := map[string]int32{}
	shared := map[string]bool{}
	for i, r := range d.Links.RunOfPlot {
		u := eventAndPlot(d, i)
		if r < 0 || u == "" {
			continue
		}
		if other, seen := run[u]; seen && other != r {
			shared[u] = true
		}
		run[u] = r
	}
	return shared
}

func eventAndPlot(d *Draft, i int) string {
	r := d.Links.RunOfPlot[i]
	if r < 0 || !d.Plots.Column("plot").Has(i) {
		return ""
	}
	return d.Runs.Column("event").Word(int(r)) + "/" + d.Plots.Column("plot").Word(i)
}
