package inference

import (
	"math"
	"testing"
)

// The derivatives of the likelihood of events are those of its value.
func TestEventLikelihoodSlopes(t *testing.T) {
	inf := math.Inf(1)
	f, ok := newEventFit([][]Bounds{
		{{1, 1}, {2, 2}, {3, inf}}, {{4, inf}, {4, inf}}, {{2, 2}, {2.5, 2.5}}, {{-inf, 0.5}, {1.5, 1.9}, {0.7, 0.7}},
	})
	if !ok {
		t.Fatal("no fit")
	}
	p := eventPoint{0.4, -1.1, 0.8}
	c := f.at(p)
	const d = 1e-5
	for i := range 3 {
		up, down := p, p
		up[i] += d
		down[i] -= d
		a, b := f.at(up), f.at(down)
		if g := (a.l - b.l) / (2 * d); math.Abs(g-c.g[i]) > 1e-6 {
			t.Errorf("slope %d: %v, by differences %v", i, c.g[i], g)
		}
		for j := range 3 {
			if h := (a.g[j] - b.g[j]) / (2 * d); math.Abs(h-c.h[i][j]) > 1e-5 {
				t.Errorf("curvature %d %d: %v, by differences %v", i, j, c.h[i][j], h)
			}
		}
	}
}
