package check

import "sheetwash/ingest/issue"

// placement reports treatments that never changed their places: no position
// held two treatments in any run, whatever rule put them there. A body of soil
// that is rained on again stands where it stood, and is one placement.
//
// Reported once per dataset, at the first plot with a position.
func placement(d *Draft, into *issue.List) {
	f := d.Plots
	position, treatment := f.Column("position"), f.Column("treatment")
	shared := SharedUnits(d)
	at := map[string]string{} // the treatment that a position held
	treatments, soils := map[string]bool{}, map[string]bool{}
	placements := map[int32]bool{} // runs that placed soil anew
	first := -1
	for i, run := range d.Links.RunOfPlot {
		if run < 0 || !position.Has(i) || !treatment.Has(i) || f.Column("exclude").True(i) {
			continue
		}
		if unit := ExperimentalUnit(d, shared, i); unit != "" {
			if soils[unit] {
				continue
			}
			soils[unit] = true
		}
		if first < 0 {
			first = i
		}
		w, t := position.Word(i), treatment.Word(i)
		if other, seen := at[w]; seen && other != t {
			return // a position held two treatments
		}
		at[w], treatments[t], placements[run] = t, true, true
	}
	switch {
	case len(treatments) < 2 || len(at) < 2:
	case len(placements) > 1:
		report(into, PlacementFixed, f, first, "position", "in %d runs each of %d positions held the same treatment every time: differences between the %d treatments hold those between positions; change places, or give the intensity at each position", len(placements), len(at), len(treatments))
	default:
		report(into, PlacementOnce, f, first, "position", "each of %d positions held one treatment in the only placement: differences between the %d treatments hold those between positions", len(at), len(treatments))
	}
}
