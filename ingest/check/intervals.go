package check

import "sheetwash/ingest/issue"

// lateMin is how long after twice the duration of rain a bottle may still end, min.
const lateMin = 60

// intervals reports bottles that end before or when they start, and bottles so
// late that the unit of their times must be wrong.
func intervals(d *Draft, into *issue.List) {
	f := d.Samples
	b := readBottles(d)
	for i := range f.N {
		start, ok1 := b.start.Value(i)
		end, ok2 := b.end.Value(i)
		switch {
		case !ok2 || !b.timed(i):
		case ok1 && end < start:
			report(into, SampleSwapped, f, i, "end", "the bottle ends at %s min, before it starts at %s min: swap or correct them", figure(end), figure(start))
		case ok1 && end == start:
			report(into, SampleEmptyInterval, f, i, "end", "the bottle starts and ends at %s min: correct one of them", figure(end))
		default:
			p := d.Links.PlotOfSample[i]
			if p < 0 {
				continue
			}
			if rain, known := rainMin(d, int(p)); known && end > 2*rain+lateMin {
				report(into, SampleLate, f, i, "end", "the bottle ends at %s min, but it rained for %s min only: check the unit of the times", figure(end), figure(rain))
			}
		}
	}
}
