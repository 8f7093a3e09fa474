package infiltration

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/analysis/internal/fit"
)

// drawn returns parameters of a model at random, and the rain.
func drawn(t *rapid.T, c *capacity) (fit.Point, rain) {
	r := rain{i: rapid.Float64Range(20, 120).Draw(t, "intensity"), end: rapid.Float64Range(0.2, 1.5).Draw(t, "hours")}
	var u fit.Point
	for n := range c.coordinates {
		co := &c.coordinates[n]
		u[n] = rapid.Float64Range(max(co.low, -4), min(co.high, 3)).Draw(t, "u")
	}
	return u, r
}

// The derivatives of every model are its difference quotients.
func TestSlopesAreDifferenceQuotients(t *testing.T) {
	models := capacities()
	rapid.Check(t, func(t *rapid.T) {
		c := &models[rapid.IntRange(0, len(models)-1).Draw(t, "model")]
		u, r := drawn(t, c)
		const n = 12
		var times, depth, up, down [n]float64
		for k := range times {
			times[k] = r.end * float64(k) / (n - 1)
		}
		var slope slopes
		for q := range slope {
			slope[q] = make([]float64, n)
		}
		p, by := c.parameters(u, r)
		c.depths(p, r, times[:], depth[:], &slope)
		for q := range c.coordinates {
			h := fit.Point{}
			h[q] = 1e-5
			at := u
			at[q] += h[q]
			p, _ = c.parameters(at, r)
			tpUp := c.ponding(p, r)
			c.depths(p, r, times[:], up[:], nil)
			at[q] -= 2 * h[q]
			p, _ = c.parameters(at, r)
			tpDown := c.ponding(p, r)
			c.depths(p, r, times[:], down[:], nil)
			for k := range times {
				if (times[k]-tpUp)*(times[k]-tpDown) <= 0 || tpUp*tpDown < 0 {
					continue // ponding lies between the three
				}
				got, want := slope[q][k]*by[q], (up[k]-down[k])/2e-5
				if math.Abs(got-want) > 1e-5*(1+math.Abs(want)+depth[k]) {
					t.Fatalf("%s: dF/du%d at %v h = %v, difference quotient %v (u %v, rain %v)", c.name, q, times[k], got, want, u, r)
				}
			}
		}
	})
}

// ponded returns the depth that a model's surface ponded from the start takes in.
func ponded(c *capacity, p fit.Point, r rain, t float64) (float64, error) {
	switch c.name {
	case ConstantRate:
		return p[0] * t, nil
	case HortonPonding:
		return Horton{F0: hortonF0(p, r), FC: p[0], K: p[1]}.Depth(0, t)
	case PhilipTwoTerm:
		return Philip{S: p[0], A: p[1]}.Depth(t)
	case GreenAmptModel:
		return GreenAmpt{K: p[1], PsiTheta: suction(p, r)}.Depth(t)
	case KostiakovModel:
		return KostiakovLewis{A: kostiakovA(p, r), B: p[1]}.Depth(t)
	case KostiakovLewisModel:
		return KostiakovLewis{A: kostiakovA(p, r), B: p[1], FC: p[2]}.Depth(t)
	default:
		return SmithParlange{K: p[1], G: suction(p, r)}.Depth(t)
	}
}

// Time compression: all rain goes in until ponding, and from then on the depth is
// that of the surface ponded from the start, at the time at which that had taken
// in as much. The depth is found here by bisection from the model's own
// closed form, and its slope by a difference quotient.
func TestTimeCompression(t *testing.T) {
	models := capacities()
	rapid.Check(t, func(t *rapid.T) {
		c := &models[rapid.IntRange(0, len(models)-1).Draw(t, "model")]
		u, r := drawn(t, c)
		p, _ := c.parameters(u, r)
		times := []float64{r.end / 3, r.end}
		var depth [2]float64
		tp := max(c.ponding(p, r), 0)
		c.depths(p, r, times, depth[:], nil)
		if tp >= r.end {
			if math.Abs(depth[1]-r.i*r.end) > 1e-9*depth[1] || c.last(p, r) != r.i {
				t.Fatalf("%s: no ponding, and depth %v of %v, capacity %v", c.name, depth[1], r.i*r.end, c.last(p, r))
			}
			return
		}
		curve := func(t0 float64) float64 {
			f, err := ponded(c, p, r, t0)
			if err != nil {
				t.Fatal(err)
			}
			return f
		}
		low, high := 0.0, 1e4*r.end
		for range 200 {
			if mid := (low + high) / 2; curve(mid) < r.i*tp {
				low = mid
			} else {
				high = mid
			}
		}
		if want := curve(low + r.end - tp); math.Abs(depth[1]-want) > 1e-6*want {
			t.Fatalf("%s: depth %v, want %v (u %v, rain %v, tp %v)", c.name, depth[1], want, u, r, tp)
		}
		const h = 1e-6
		f := (curve(low+r.end-tp+h) - curve(low+r.end-tp-h)) / (2 * h)
		if got := c.last(p, r); low+r.end-tp > 1e-3 && math.Abs(got-f) > 1e-3*(1+f) {
			t.Fatalf("%s: capacity %v at the end, slope of the depth %v (u %v, rain %v)", c.name, got, f, u, r)
		}
	})
}
