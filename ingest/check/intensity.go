package check

import (
	"slices"

	"sheetwash/analysis/experiment"
	"sheetwash/ingest/issue"
)

// intensity reports plots of whose rain nothing is known and nothing can be
// learned: no intensity of the plot or the run, no rain readings, and no
// simulator that catch cans of another day could stand for.
func intensity(d *Draft, into *issue.List) {
	if d.Broken["runs"] && d.Runs.Column("intensity") == nil || d.Broken["plots"] && d.Plots.Column("intensity") == nil || d.Broken["readings"] {
		return // the intensity may stand in the column that could not be read
	}
	logged := rainLogged(d)
	for i, r := range d.Links.RunOfPlot {
		if r < 0 || logged.knows(d, i, int(r)) || mayBeCalibrated(d, int(r)) {
			continue
		}
		report(into, PlotNoIntensity, d.Plots, i, "intensity", "no rain intensity is known for this plot: fill in intensity of the run or the plot, or name the simulator and add its catch cans")
	}
}

// NeedsCalibration returns the runs, sorted, that have a plot whose intensity
// only catch cans can tell.
func NeedsCalibration(d *Draft) []string {
	var out []string
	logged := rainLogged(d)
	for i, r := range d.Links.RunOfPlot {
		if r >= 0 && !logged.knows(d, i, int(r)) && mayBeCalibrated(d, int(r)) {
			out = append(out, d.Runs.Column("run").Word(int(r)))
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// rainReadings says which plots and which runs as a whole have rain readings, by
// their rows.
type rainReadings struct{ plots, runs map[int32]bool }

func rainLogged(d *Draft) rainReadings {
	l := rainReadings{plots: map[int32]bool{}, runs: map[int32]bool{}}
	for k, r := range d.Readings {
		switch {
		case r.Series.Channel != experiment.RainRate && r.Series.Channel != experiment.RainDepth:
		case r.Plot == "":
			l.runs[d.Links.RunOfLogged[k]] = true
		default:
			l.plots[d.Links.PlotOfLogged[k]] = true
		}
	}
	return l
}

// knows reports whether the rain on a plot follows from the dataset itself. An
// invalid cell counts: its own finding is enough.
func (l rainReadings) knows(d *Draft, plot, run int) bool {
	return d.Plots.Column("intensity").Is(plot) != Absent || d.Runs.Column("intensity").Is(run) != Absent ||
		l.plots[int32(plot)] || l.runs[int32(run)]
}

// mayBeCalibrated reports whether catch cans, here or elsewhere in the season,
// could tell the intensity of a run.
func mayBeCalibrated(d *Draft, run int) bool {
	return d.Cans.N > 0 || d.Runs.Column("simulator").Word(run) != ""
}

// plotIntensity returns the rain rate at a plot, mm/h, as far as numbers of the
// plots and runs tables tell it.
func plotIntensity(d *Draft, plot int) (float64, bool) {
	if v, ok := d.Plots.Column("intensity").Value(plot); ok {
		return v, v > 0
	}
	if r := d.Links.RunOfPlot[plot]; r >= 0 {
		v, ok := d.Runs.Column("intensity").Value(int(r))
		return v, ok && v > 0
	}
	return 0, false
}

// rainMin returns the duration of rain over a plot, min.
func rainMin(d *Draft, plot int) (float64, bool) {
	if r := d.Links.RunOfPlot[plot]; r >= 0 {
		v, ok := d.Runs.Column("rain_duration").Value(int(r))
		return v, ok && v > 0
	}
	return 0, false
}
