package infiltration

import (
	"math"
	"math/rand/v2"
	"testing"

	"sheetwash/analysis/internal/fit"
)

// plot is a run of a soil that one of the models describes exactly.
type plot struct {
	model *capacity
	p     fit.Point
	r     rain
	data  []fit.Mean
}

// plotOf draws rain, a soil of a model that ponds in the first 3/5 of it, and 6
// to 30 intervals from then on with errors of u mm/h.
func plotOf(random *rand.Rand, c *capacity, u float64) plot {
	between := func(a, b float64) float64 { return a + (b-a)*random.Float64() }
	d := plot{model: c, r: rain{i: between(40, 120), end: between(0.3, 1)}}
	var at fit.Point
	for n := range c.coordinates {
		if s := c.coordinates[n].starts; len(s) > 0 {
			at[n] = between(s[0], s[len(s)-1])
		}
	}
	d.p, _ = c.parameters(at, d.r)
	d.p = c.pondingAt(between(0.03, 0.6)*d.r.end, d.p, d.r)
	tp := max(c.ponding(d.p, d.r), 0)
	n := 6 + random.IntN(25)
	edges, depth := make([]float64, n+1), make([]float64, n+1)
	for k := range edges {
		edges[k] = tp + (d.r.end-tp)*float64(k)/float64(n)
	}
	c.depths(d.p, d.r, edges, depth, nil)
	for k := range n {
		f := (depth[k+1] - depth[k]) / (edges[k+1] - edges[k])
		d.data = append(d.data, fit.Mean{Start: edges[k] * 60, End: edges[k+1] * 60, Value: f + u*random.NormFloat64(), U: max(u, 0.3)})
	}
	return d
}

// Without errors every model finds the soil that it describes: the sum of squares
// is nothing, and the capacity at the end of rain and the time of ponding are
// those of the soil.
func TestModelsFindTheirOwnSoil(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 1))
	models := capacities()
	for n := range 40 * len(models) {
		d := plotOf(random, &models[n%len(models)], 0)
		c := d.model
		least, ok := c.box(&seen{data: d.data}, d.r).Minimum(c.starts(d.data, d.r))
		if !ok || least.Sum > 1e-12 {
			t.Errorf("%s with %v in rain %v: sum of squares %v at %v", c.name, d.p, d.r, least.Sum, least.At)
			continue
		}
		p, _ := c.parameters(least.At, d.r)
		if got, want := c.last(p, d.r), c.last(d.p, d.r); math.Abs(got-want) > 1e-5*d.r.i {
			t.Errorf("%s: capacity %v at the end, want %v", c.name, got, want)
		}
		if got, want := c.ponding(p, d.r), c.ponding(d.p, d.r); math.Abs(got-want) > 1e-4*d.r.end {
			t.Errorf("%s: ponding at %v h, want %v", c.name, got, want)
		}
	}
}

// No point drawn at random has a lower sum of squares than the minimum, and none
// whose sum is below the limit lies outside the intervals. What is said to be a
// limit has just the sum of the limit.
func TestIntervalsAgainstRandomPoints(t *testing.T) {
	random := rand.New(rand.NewPCG(2, 2))
	models := capacities()
	rows, unfound := 0, 0
	for range 60 {
		d := plotOf(random, &models[random.IntN(len(models))], 0.5)
		for m := range models {
			c := &models[m]
			box := c.box(&seen{data: d.data}, d.r)
			least, ok := box.Minimum(c.starts(d.data, d.r))
			if !ok {
				t.Fatalf("%s has no minimum", c.name)
			}
			limit := least.Sum + 3.84*max(1, least.Sum/float64(len(d.data)-len(c.coordinates)))
			type span struct {
				row       reported
				low, high fit.Extreme
			}
			var spans []span
			for _, row := range c.allRows() {
				value := func(u fit.Point) float64 {
					p, _ := c.parameters(u, d.r)
					return row.of(p, d.r)
				}
				s := span{row, box.Extreme(value, least, limit, -1), box.Extreme(value, least, limit, 1)}
				for _, e := range []fit.Extreme{s.low, s.high} {
					rows++
					if !e.Settled {
						unfound++
					}
				}
				spans = append(spans, s)
			}
			for range 200 {
				spread := math.Exp(-4 * random.Float64())
				at := least.At
				for k := range c.coordinates {
					at[k] += spread * random.NormFloat64()
					at[k] = min(max(at[k], c.coordinates[k].low), c.coordinates[k].high)
				}
				sum := box.Sum(at)
				if sum < least.Sum-1e-6*(1+least.Sum) {
					t.Fatalf("%s: sum %v at %v, below the minimum's %v at %v", c.name, sum, at, least.Sum, least.At)
				}
				if sum > limit {
					continue
				}
				p, _ := c.parameters(at, d.r)
				for _, s := range spans {
					if !s.low.Settled || !s.high.Settled {
						continue
					}
					v := s.row.of(p, d.r)
					if slack := 1e-3 * (s.high.Value - s.low.Value); v < s.low.Value-slack || v > s.high.Value+slack {
						t.Errorf("%s %s: %v at %v with the sum %v, limit %v, lies outside %v to %v", c.name, s.row.name, v, at, sum, limit, s.low.Value, s.high.Value)
					}
				}
			}
		}
	}
	if unfound > rows/100 {
		t.Errorf("%d of %d limits were not found", unfound, rows)
	}
}
