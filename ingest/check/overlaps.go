package check

import (
	"sheetwash/ingest/issue"
)

// touchMin is how much two bottles may overlap or stand apart by rounding of
// their times alone, min (0.3 s).
const touchMin = 0.005

// overlaps reports bottles of one plot and stream that were caught at the same
// time. Water is compared with water and sediment with sediment, since sediment
// is often pooled over several bottles. Excluded rows are left aside.
func overlaps(d *Draft, into *issue.List) {
	b := readBottles(d)
	type pair struct{ a, b int }
	for p := range d.Plots.N {
		var seen map[pair]bool
		for _, carries := range []func(int) bool{b.carriesWater, b.carriesSediment} {
			last := -1 // the row that ends last so far
			for _, row := range d.Links.Samples(p) {
				i := int(row)
				start, end, ok := b.interval(i)
				if !ok || !b.timed(i) || b.exclude.True(i) || !carries(i) {
					continue
				}
				if last < 0 || b.stream.Code[last] != b.stream.Code[i] {
					last = i
					continue
				}
				if start < b.end.Num[last]-touchMin && !seen[pair{last, i}] {
					if seen == nil {
						seen = map[pair]bool{}
					}
					seen[pair{last, i}] = true
					reportOverlap(d, &b, last, i, into)
				}
				if end > b.end.Num[last] {
					last = i
				}
			}
		}
	}
}

func reportOverlap(d *Draft, b *bottles, i, j int, into *issue.List) {
	if d.Samples.Row(j) < d.Samples.Row(i) && d.Samples.Part(i).File == d.Samples.Part(j).File {
		i, j = j, i
	}
	f := d.Samples
	where := f.Part(i).File
	if same(b, i, j) {
		report(into, SampleDuplicate, f, j, "", "the same bottle already stands in row %d of %s: delete one of them", f.Row(i), where)
		return
	}
	report(into, SampleOverlap, f, j, "start", "the bottle from %s to %s min overlaps the one from %s to %s min in row %d of %s: correct their times",
		figure(b.start.Num[j]), figure(b.end.Num[j]), figure(b.start.Num[i]), figure(b.end.Num[i]), f.Row(i), where)
}

// same reports whether two rows agree in times and in every reading.
func same(b *bottles, i, j int) bool {
	for _, c := range []*Column{b.start, b.end, b.volume, b.gross, b.tare, b.sediment, b.dishGross, b.dishTare, b.concentration} {
		x, okx := c.Value(i)
		y, oky := c.Value(j)
		if okx != oky || x != y {
			return false
		}
	}
	return true
}
