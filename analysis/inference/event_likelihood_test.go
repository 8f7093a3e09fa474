package inference

import (
	"math"
	"testing"

	"pgregory.net/rapid"
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

// The nodes of the quadratures keep the error that is said of them wherever the
// likelihood does not vanish, against four times as many.
func TestEventLikelihoodNodes(t *testing.T) {
	fine := newNodes(96, 64, 1e-16)
	rapid.Check(t, func(t *rapid.T) {
		value := rapid.Float64Range(-1, 1)
		events := [][]Bounds{{{-1, -1}, {1, 1}}} // values that differ, so that there is a fit
		for range rapid.IntRange(1, 3).Draw(t, "events") {
			var g []Bounds
			for range rapid.IntRange(1, 5).Draw(t, "plots") {
				a, b := value.Draw(t, "low"), value.Draw(t, "high")
				g = append(g, []Bounds{{a, a}, {a, math.Inf(1)}, {math.Inf(-1), a}, {min(a, b), max(a, b) + 1e-3}}[rapid.IntRange(0, 3).Draw(t, "kind")])
			}
			events = append(events, g)
		}
		f, ok := newEventFit(events)
		if !ok {
			t.Fatalf("no fit of %v", events)
		}
		p := eventPoint{value.Draw(t, "mu"), rapid.Float64Range(-4, 1).Draw(t, "ln sigma"), rapid.Float64Range(-20, 20).Draw(t, "k")}
		whole := f.at(p).l
		f.rule = fewNodes
		few := f.at(p).l
		f.rule = fine
		want := f.at(p).l
		if want < -20 { // vanishes: no climb ends there, but it must not lead astray
			if !(whole < -10 && few < -10) {
				t.Errorf("%v at %v: %v and %v, want %v", events, p, whole, few, want)
			}
			return
		}
		if math.Abs(whole-want) > 1e-8*(1+math.Abs(want)) {
			t.Errorf("%v at %v: %v, want %v", events, p, whole, want)
		}
		if math.Abs(few-want) > fewErr*(1+math.Abs(want)) {
			t.Errorf("%v at %v with few nodes: %v, want %v", events, p, few, want)
		}
	})
}

// Limits by Newton's method on all parameters are those by bracketing the profile.
func TestEventLikelihoodLimits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		normal := rapid.Custom(func(t *rapid.T) float64 {
			q, _ := NormalQuantile(rapid.Float64Range(0.001, 0.999).Draw(t, "p"))
			return q
		})
		end := 1 + normal.Draw(t, "end")
		tau := rapid.SampledFrom([]float64{0, 0.3, 1, 3}).Draw(t, "tau")
		events := [][]Bounds{{{-0.5, -0.5}, {0.7, 0.7}}} // plots that differ, so that there is a maximum
		for range rapid.IntRange(1, 5).Draw(t, "events") {
			var g []Bounds
			shift := tau * normal.Draw(t, "shift")
			for range rapid.IntRange(1, 5).Draw(t, "plots") {
				v := shift + normal.Draw(t, "plot")
				switch {
				case v > end:
					g = append(g, Bounds{end, math.Inf(1)})
				case rapid.IntRange(0, 7).Draw(t, "kind") == 0:
					g = append(g, Bounds{v - 0.3, v + 0.2})
				default:
					g = append(g, Bounds{v, v})
				}
			}
			events = append(events, g)
		}
		f, ok := newEventFit(events)
		if !ok {
			t.Fatalf("no fit of %v", events)
		}
		best, at, ok := f.maximise(f.start())
		if !ok {
			t.Fatalf("no maximum for %v", events)
		}
		k := float64(len(events))
		q := critical(0.95, k-1)
		target := best.l - k*math.Log1p(q*q/(k-1))/2
		se := errorOf(best.h)
		for _, side := range []float64{-1, 1} {
			got, ok := f.limit(at, side, se, target)
			want, also := f.bracketed(at, side, se, best.l-target, target)
			if ok != also || ok && math.Abs(got-want) > 1e-7*(1+math.Abs(want)) {
				t.Errorf("side %v: %v (%v), by bracketing %v (%v)", side, got, ok, want, also)
			}
		}
	})
}
