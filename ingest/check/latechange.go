package check

import (
	"math"

	"sheetwash/ingest/issue"
)

// lateChanges notes pairs of bottles of which one is too full and the next too
// light by the same amount, while the bottles around them agree: the bottle was
// changed late or early, and the two together are right.
func lateChanges(d *Draft, into *issue.List) {
	if d.Broken["samples"] {
		return // rows are missing; what is said of the others would mislead
	}
	b := readBottles(d)
	var rows []int
	for p := range d.Plots.N {
		rows = rows[:0]
		for _, row := range d.Links.Samples(p) {
			i := int(row)
			if _, _, ok := b.interval(i); ok && b.stream.Word(i) == "runoff" && !b.exclude.True(i) && b.flagOK(i) {
				if _, ok := b.water(i); ok {
					rows = append(rows, i)
				}
			}
		}
		for k := 1; k+2 < len(rows); k++ {
			if lateChange(&b, rows[k-1:k+3]) {
				report(into, SampleLateChange, d.Samples, rows[k], "end", "this bottle and the next (row %d) differ by opposite amounts from those around them: the change may have been late or early; together they are right", d.Samples.Row(rows[k+1]))
				k++
			}
		}
	}
}

// lateChange looks at the rates of four bottles that follow one another without gap.
func lateChange(b *bottles, rows []int) bool {
	var rate [4]float64
	var width [4]float64
	for k, i := range rows {
		v, _ := b.water(i)
		width[k] = b.end.Num[i] - b.start.Num[i]
		rate[k] = v / width[k]
		if k > 0 && math.Abs(b.start.Num[i]-b.end.Num[rows[k-1]]) > touchMin {
			return false
		}
	}
	around := (rate[0] + rate[3]) / 2
	pair := (rate[1]*width[1] + rate[2]*width[2]) / (width[1] + width[2])
	const off, near = 0.12, 0.04 // of the rate around
	return around > 0 &&
		math.Abs(rate[0]-rate[3]) < near*around && math.Abs(pair-around) < near*around &&
		math.Abs(rate[1]-around) > off*around && math.Abs(rate[2]-around) > off*around
}

// flagOK reports whether the volume of row i is what flowed in its interval.
func (b *bottles) flagOK(i int) bool { w := b.flag.Word(i); return w == "" || w == "ok" }
