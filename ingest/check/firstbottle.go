package check

import (
	"math"

	"sheetwash/analysis/experiment"
	"sheetwash/ingest/issue"
)

// firstBottles reports plots whose first bottle begins after runoff did: later
// than the profile allows after the noted start; or, where none was noted, with
// a good share of the plot's largest rate, at a time that is a whole number of
// its own lengths, as where a row of a regular series is missing.
func firstBottles(d *Draft, into *issue.List) {
	if d.Broken["samples"] {
		return // rows are missing; what is said of the others would mislead
	}
	p := profilesOf(d)
	b := readBottles(d)
	for plot := range d.Plots.N {
		if !flowLogged(d, plot) {
			firstBottle(d, &b, plot, p.ofRun(d, d.Links.RunOfPlot[plot]).FirstBottle, into)
		}
	}
}

func firstBottle(d *Draft, b *bottles, plot int, bounds experiment.FirstBottle, into *issue.List) {
	first := -1
	var rate, largest float64
	for _, row := range d.Links.Samples(plot) {
		i := int(row)
		start, end, ok := b.interval(i)
		if !ok || b.stream.Word(i) != "runoff" || !b.carriesWater(i) {
			continue
		}
		v, _ := b.water(i)
		if first < 0 {
			first, rate = i, v/(end-start)
		}
		largest = max(largest, v/(end-start))
	}
	if first < 0 || !holdsRunoff(d, b, first) {
		return
	}
	start, end, _ := b.interval(first)
	onset := d.Plots.Column("runoff_start")
	if at, noted := onset.Value(plot); noted {
		if bounds.WithinMin.OK && start > at+bounds.WithinMin.V {
			report(into, FirstMissing, d.Samples, first, "start", "runoff is noted at %s min, but the first bottle begins at %s min: add the bottle before it, or correct runoff_start", figure(at), figure(start))
		}
		return
	}
	steps := start / (end - start)
	if bounds.Share.OK && onset.Is(plot) == Absent && steps > 0.5 && math.Abs(steps-math.Round(steps)) < 0.01 && rate > bounds.Share.V*largest {
		report(into, FirstMissing, d.Samples, first, "start", "the first bottle begins at %s min with %s %% of the plot's largest rate: water ran off before it; add the bottle that is missing, or note runoff_start", figure(start), figure(math.Round(100*rate/largest)))
	}
}
