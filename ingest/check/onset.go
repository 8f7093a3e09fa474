package check

import "sheetwash/ingest/issue"

// onset compares the noted start of runoff with the rain and the bottles.
func onset(d *Draft, into *issue.List) {
	f := d.Plots
	start, ponding := f.Column("runoff_start"), f.Column("ponding_start")
	b := readBottles(d)
	for i := range f.N {
		if start.Is(i) == NotHappened {
			noneButWater(d, i, &b, into)
			continue
		}
		v, ok := start.Value(i)
		if !ok {
			continue
		}
		if rain, known := rainMin(d, i); known && v > rain {
			report(into, OnsetAfterRain, f, i, "runoff_start", "runoff is noted at %s min, but rain ended at %s min: check both", figure(v), figure(rain))
		}
		if p, known := ponding.Value(i); known && p > v {
			report(into, OnsetBeforePonding, f, i, "runoff_start", "runoff is noted at %s min, before ponding at %s min: check both", figure(v), figure(p))
		}
		for _, row := range d.Links.Samples(i) {
			j := int(row)
			if _, end, timed := b.interval(j); timed && end < v && holdsRunoff(d, &b, j) {
				report(into, OnsetAfterWater, f, i, "runoff_start", "runoff is noted at %s min, but the bottle that ended at %s min (row %d of the samples) holds water: check both", figure(v), figure(end), d.Samples.Row(j))
				break
			}
		}
	}
}

// noneButWater reports the first bottle of a plot that is said not to have run
// off by the end of rain, and that holds water nevertheless.
func noneButWater(d *Draft, i int, b *bottles, into *issue.List) {
	rain, known := rainMin(d, i)
	for _, row := range d.Links.Samples(i) {
		j := int(row)
		_, end, timed := b.interval(j)
		if timed && holdsRunoff(d, b, j) && (!known || end <= rain) {
			report(into, OnsetNoneButWater, d.Plots, i, "runoff_start", "runoff_start says none, but the bottle that ended at %s min (row %d of the samples) holds water: enter the start of runoff, or flag the bottle trace", figure(end), d.Samples.Row(j))
			return
		}
	}
}

// holdsRunoff reports whether a bottle holds more runoff than a reading error
// could make of an empty one.
func holdsRunoff(d *Draft, b *bottles, i int) bool {
	if b.stream.Word(i) != "runoff" || b.flag.Word(i) == "trace" || b.exclude.True(i) {
		return false
	}
	v, ok := b.water(i)
	return ok && v > 3*d.Errors.VolumeML
}
