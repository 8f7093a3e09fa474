package check

import (
	"math"

	"sheetwash/analysis/experiment"
)

// rating is the range of turbidity within which a dataset tells a concentration.
type rating struct {
	pairs     int
	low, high float64
}

// ratingOf returns the range of the bottles of runoff that have both a turbidity and
// sediment of their own. Whether their concentrations rise with turbidity is seen
// when the rating is fitted; where they do not, results are flagged.
func ratingOf(d *Draft, b *bottles) rating {
	r := rating{low: math.Inf(1), high: math.Inf(-1)}
	c := d.Samples.Column("turbidity")
	if c == nil {
		return r
	}
	for i := range d.Samples.N {
		v, ok := c.Value(i)
		if !ok || !(v > 0) || b.stream.Word(i) != "runoff" || b.exclude.True(i) {
			continue
		}
		stated, _ := b.concentration.Value(i)
		mass, _ := b.dry(i)
		if water, _ := b.water(i); stated > 0 || mass > 0 && water > 0 {
			r.pairs, r.low, r.high = r.pairs+1, min(r.low, v), max(r.high, v)
		}
	}
	return r
}

// holds reports whether the rating turns the turbidity of row i into a concentration.
func (r *rating) holds(turbidity *Column, i int) bool {
	v, ok := turbidity.Value(i)
	return ok && r.pairs >= experiment.RatingPairs && v >= r.low && v <= r.high
}
