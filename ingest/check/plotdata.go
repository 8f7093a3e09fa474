package check

import (
	"sheetwash/analysis/experiment"
	"sheetwash/ingest/issue"
)

// plotData reports plots about which nothing was caught, logged or noted.
func plotData(d *Draft, into *issue.List) {
	if d.Broken["samples"] || d.Broken["readings"] {
		return // rows are missing; what is said of the others would mislead
	}
	plot := d.Plots.Column("plot")
	type key struct{ run, plot int32 }
	seen := map[key]bool{} // of a plot that stands twice the first row has the samples
	for i, run := range d.Links.RunOfPlot {
		if run < 0 || !plot.Has(i) {
			continue
		}
		k := key{run, plot.Code[i]}
		if seen[k] {
			continue
		}
		seen[k] = true
		if d.Plots.Column("runoff_start").Is(i) == NotHappened || d.Plots.Column("exclude").True(i) {
			continue
		}
		if len(d.Links.Samples(i)) == 0 && !flowLogged(d, i) {
			report(into, PlotNoData, d.Plots, i, "plot", "no sample and no runoff reading: add the bottles, or write none in runoff_start if nothing ran off")
		}
	}
}

// flowLogged reports whether a logger measured flow off or through a plot.
func flowLogged(d *Draft, plot int) bool {
	for _, k := range d.Links.Logged(plot) {
		switch d.Readings[k].Series.Channel {
		case experiment.RunoffMass, experiment.RunoffVolume, experiment.RunoffRate,
			experiment.DrainageMass, experiment.DrainageVolume, experiment.DrainageRate:
			return true
		}
	}
	return false
}
