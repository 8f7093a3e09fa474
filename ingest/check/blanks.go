package check

import "sheetwash/ingest/issue"

// blanks reports blanks that name a plot, blanks that are not subtracted or are
// wanted and missing, and notes remainders, which are never part of soil loss.
func blanks(d *Draft, into *issue.List) {
	f := d.Samples
	b := readBottles(d)
	plot := f.Column("plot")
	found := make([]bool, d.Runs.N)
	remainder := make([]bool, d.Runs.N)
	subtract := d.Runs.Column("subtract_blank")
	for i := range f.N {
		r := d.Links.RunOfSample(i)
		switch b.stream.Word(i) {
		case "blank":
			if plot.Has(i) {
				report(into, BlankPlot, f, i, "plot", "a blank belongs to the whole run; its plot is not used: leave it empty")
			}
			if r < 0 {
				continue
			}
			if !found[r] && !subtract.True(int(r)) {
				report(into, BlankUnused, f, i, "stream", "the run's blanks are kept but not subtracted: set subtract_blank to true if its sediment masses still contain the blank")
			}
			if _, ok := b.dry(i); ok || !subtract.True(int(r)) {
				found[r] = true
			}
		case "remainder":
			if r >= 0 && !remainder[r] {
				remainder[r] = true
				report(into, RemainderSetAside, f, i, "stream", "what was washed off after the run is kept, and is no part of the soil loss")
			}
		}
	}
	for r := range d.Runs.N {
		if subtract.True(r) && !found[r] && !d.Broken["samples"] {
			report(into, BlankMissing, d.Runs, r, "subtract_blank", "subtract_blank is true, but the run has no blank with a sediment mass: add it, or set subtract_blank to false")
		}
	}
}
