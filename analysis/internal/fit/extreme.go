package fit

import "math"

const (
	extremeSteps = 60
	extremeStep  = 1e-10 // of a coordinate
	gradientStep = 1e-4
)

// Extreme is an extreme value of a function over the region of a Box.
type Extreme struct {
	Value   float64
	At      Point
	Settled bool // false: the walk did not come to an end
	Open    bool // the function would go on where the range of a coordinate ends
}

// Extreme returns the largest value (sign 1) or the smallest one (sign -1) of a
// function of the point where the sum of squares is at most a limit, from the
// minimum: the profile-likelihood limit of that function.
//
// At every step the sum of squares is taken for its quadratic model and the
// function for a linear one, whose extreme within an ellipsoid is known:
//
//	d = H^-1 (s g - c),  s = sign sqrt((limit - sum + c'H^-1 c)/(g'H^-1 g))
//
// with H the curvature, c the slope and g the gradient of the function. Where it
// settles the sum is the limit and the slope is along g (the conditions of
// Venzon & Moolgavkar 1988, Appl. Stat. 37:87-94).
func (b *Box) Extreme(f func(Point) float64, least Least, limit, sign float64) Extreme {
	at, settled := least.At, false
	room := limit - least.Sum
	for range extremeSteps {
		l := b.local(at)
		g := b.gradient(f, at)
		free := b.outward(at, g, l.slope, sign)
		hg, ok := solve3(&l.curve, g, free)
		if !ok {
			l.ridge()
			hg, _ = solve3(&l.curve, g, free)
		}
		hc, _ := solve3(&l.curve, l.slope, free)
		along, down := dot(g, hg), dot(l.slope, hc)
		if !(along > 0) { // nothing that may move changes it
			settled = l.sum <= limit*(1+1e-9)
			break
		}
		s := sign * math.Sqrt(max(limit-l.sum+down, 0)/along)
		var d Point
		for c := range d {
			d[c] = s*hg[c] - hc[c]
		}
		next := b.clip(at, d)
		// A step that leaves the region by far is shortened.
		for range 8 {
			if sum := b.Sum(next); sum-limit <= room+max(l.sum-limit, 0) {
				break
			}
			for c := range next {
				next[c] = (next[c] + at[c]) / 2
			}
		}
		moved := distance(at, next)
		at = next
		if moved < extremeStep {
			settled = true
			break
		}
	}
	return Extreme{Value: f(at), At: at, Settled: settled, Open: b.open(f, at, sign)}
}

// goingOn is the slope in a coordinate, relative to the value, below which a
// function does not change any more.
const goingOn = 1e-3

// open reports whether a function would go on beyond the end of a range.
func (b *Box) open(f func(Point) float64, at Point, sign float64) bool {
	g := b.gradient(f, at)
	for c := range b.Coordinates {
		if math.Abs(at[c]) >= b.Reach && sign*g[c]*at[c] > 0 && math.Abs(g[c]) > goingOn*max(math.Abs(f(at)), 1) {
			return true
		}
	}
	return false
}

// gradient returns that of a function by central differences.
func (b *Box) gradient(f func(Point) float64, at Point) (g Point) {
	for c := range b.Coordinates {
		up, down := at, at
		up[c] += gradientStep
		down[c] -= gradientStep
		g[c] = (f(up) - f(down)) / (2 * gradientStep)
	}
	return g
}

// outward tells which coordinates may move on the way to an extreme: all but
// those at an end of their range, unless the way leads back.
func (b *Box) outward(at, g, slope Point, sign float64) (free [MostCoordinates]bool) {
	for c := range b.Coordinates {
		end := 0.0
		switch {
		case at[c] >= b.Reach:
			end = 1
		case at[c] <= -b.Reach:
			end = -1
		}
		free[c] = end == 0 || sign*g[c]*end < 0 || g[c] == 0 && slope[c]*end > 0
	}
	return free
}

// ridge makes the curvature definite.
func (l *local) ridge() {
	largest := 0.0
	for c := range l.curve {
		largest = max(largest, l.curve[c][c])
	}
	for c := range l.curve {
		l.curve[c][c] += 1e-10*largest + 1e-300
	}
}

func dot(a, b Point) float64 {
	s := 0.0
	for c := range a {
		s += a[c] * b[c]
	}
	return s
}
