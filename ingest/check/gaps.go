package check

import "sheetwash/ingest/issue"

// gaps notes where nothing was caught between two bottles for longer than a
// tenth of their mean interval, and warns where the bottles of a plot stop
// during rain while water was flowing.
func gaps(d *Draft, into *issue.List) {
	if d.Broken["samples"] {
		return // rows are missing; what is said of the others would mislead
	}
	b := readBottles(d)
	f := d.Samples
	for p := range d.Plots.N {
		last := -1
		for _, row := range d.Links.Samples(p) {
			i := int(row)
			start, end, ok := b.interval(i)
			if !ok || !b.timed(i) || b.exclude.True(i) || !b.carriesWater(i) {
				continue
			}
			if last >= 0 && b.stream.Code[last] == b.stream.Code[i] {
				gap := start - b.end.Num[last]
				mean := (end - start + b.end.Num[last] - b.start.Num[last]) / 2
				if gap > touchMin && gap > mean/10 {
					report(into, SampleGap, f, i, "start", "nothing was caught from %s to %s min; the depth over this gap is interpolated", figure(b.end.Num[last]), figure(start))
				}
			}
			if last < 0 || b.stream.Code[last] != b.stream.Code[i] || end > b.end.Num[last] {
				if last >= 0 && b.stream.Code[last] != b.stream.Code[i] {
					stopsEarly(d, &b, p, last, into)
				}
				last = i
			}
		}
		if last >= 0 {
			stopsEarly(d, &b, p, last, into)
		}
	}
}

// stopsEarly reports the last bottle of a plot if it holds runoff and ended
// during rain, and no logger went on.
func stopsEarly(d *Draft, b *bottles, p, last int, into *issue.List) {
	rain, known := rainMin(d, p)
	if !known || !holdsRunoff(d, b, last) || flowLogged(d, p) {
		return
	}
	if end := b.end.Num[last]; end < rain-max(0.5, rain/50) {
		report(into, SampleStopsEarly, d.Samples, last, "end", "the last bottle of the plot ended at %s min, but rain went on to %s min: add the missing bottles", figure(end), figure(rain))
	}
}
