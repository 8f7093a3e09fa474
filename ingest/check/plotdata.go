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
	for i := range d.Plots.N {
		if d.Plots.Column("runoff_start").Is(i) == NotHappened || d.Plots.Column("exclude").True(i) {
			continue
		}
		if len(d.Links.Samples(i)) == 0 && !flowLogged(d, i) && !shadowed(d, i) {
			report(into, PlotNoData, d.Plots, i, "plot", "no sample and no runoff reading: add the bottles, or write none in runoff_start if nothing ran off")
		}
	}
}

// shadowed reports whether a plot row's samples belong to an earlier row of the same key, or its run is unknown.
func shadowed(d *Draft, i int) bool {
	run := d.Links.RunOfPlot[i]
	if run < 0 || !d.Plots.Column("plot").Has(i) {
		return true
	}
	plot := d.Plots.Column("plot")
	for j := range i {
		if d.Links.RunOfPlot[j] == run && plot.Has(j) && plot.Code[j] == plot.Code[i] {
			return true
		}
	}
	return false
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
