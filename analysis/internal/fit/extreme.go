package fit

import "math"

const (
	extremeSteps = 60
	extremeStep  = 1e-10 // of a coordinate
	stillness    = 1e-6  // change of the value, relative to its way from the minimum, and of the sum to the room
	gradientStep = 1e-4
)

// Extreme is an extreme value of a function over a region of a Box.
type Extreme struct {
	Value   float64
	At      Point
	Settled bool                  // false: the walk did not come to an end
	Ends    [MostCoordinates]bool // coordinates at an end of their range beyond which the function would go on
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
	var g Point
	value := f(at)
	first := value
	l := least.round
	var more matrix
	past, reached := at, value
	for n := range extremeSteps {
		if n >= ridgeFrom && (n-ridgeFrom)%ridgeEvery == 0 {
			if math.Abs(l.sum-limit) < onRidge*room {
				if settled = math.Abs(value-reached) < onRidge*math.Abs(value-first); settled {
					break
				}
				ahead := b.beyond(past, at)
				if m := b.local(ahead); m.sum-limit <= room {
					at, value, l = ahead, f(ahead), m
				}
			}
			past, reached = at, value
		}
		if n >= secondFrom {
			if (n-secondFrom)%secondEvery == 0 {
				more = b.second(&l, at)
			}
			l.with(&more, b.all())
		}
		g = b.gradient(f, at)
		d, ok := b.furthest(&l, at, g, limit, sign)
		if !ok {
			l.ridge()
			d, _ = b.furthest(&l, at, g, limit, sign)
		}
		next := b.clip(at, d)
		if next != next { // NaN
			break
		}
		// A step that leaves the region by far is shortened.
		m := b.local(next)
		for range 8 {
			if m.sum-limit <= room+max(l.sum-limit, 0) {
				break
			}
			for c := range next {
				next[c] = (next[c] + at[c]) / 2
			}
			m = b.local(next)
		}
		before := value
		moved := distance(at, next)
		at, value, l = next, f(next), m
		// Next to the extreme the value changes with the square of the step.
		still := math.Abs(l.sum-limit) < stillness*room && math.Abs(value-before) < stillness*math.Abs(value-first)
		if moved < extremeStep || still {
			settled = true
			break
		}
	}
	if math.Abs(l.sum-limit) < atRidgeEnd*room {
		settled = true
	}
	e := Extreme{Value: value, At: at, Settled: settled}
	enough := goingOn * max(1, math.Abs(e.Value))
	for c := range b.Coordinates {
		e.Ends[c] = at[c] >= b.High[c] && sign*g[c] > enough || at[c] <= b.Low[c] && sign*g[c] < -enough
	}
	return e
}

// Where parameters are known from each other only, the walk comes to the limit soon and
// then follows it along a ridge on which the value hardly changes.
const (
	ridgeFrom  = 12   // steps after which it is asked whether it does,
	ridgeEvery = 4    // and how often
	ridgeAhead = 6    // how much further than it came since then it is taken at once
	onRidge    = 1e-4 // the sum is the limit, relative to the room; the value gained, relative to its way
	atRidgeEnd = 1e-3 // the sum is the limit when the steps are spent
)

// beyond returns the point that lies further in the direction from one to another.
func (b *Box) beyond(from, to Point) Point {
	for c := range b.Coordinates {
		to[c] = min(max(to[c]+ridgeAhead*(to[c]-from[c]), b.Low[c]), b.High[c])
	}
	return to
}

// goingOn is the slope in a coordinate, relative to the value, below which a
// function does not change any more.
const goingOn = 1e-3

// furthest returns the step to the extreme of a linear function within the
// region of the model.
func (b *Box) furthest(l *local, at, g Point, limit, sign float64) (Point, bool) {
	return b.within(l, at, func(sum float64, slope Point, free [MostCoordinates]bool) (d Point, ok bool) {
		for c := range b.Coordinates {
			width := b.High[c] - b.Low[c]
			if free[c] && l.curve[c][c]*width*width < flat {
				free[c] = false
				if g[c] != 0 { // nothing holds it back
					d[c] = math.Copysign(longestStep, sign*g[c])
					d[c] = min(max(d[c], b.Low[c]-at[c]), b.High[c]-at[c])
				}
			}
		}
		hg, ok := solveFree(&l.curve, g, free)
		if !ok {
			return d, false
		}
		hc, _ := solveFree(&l.curve, slope, free)
		along, down := dot(g, hg), dot(slope, hc)
		s := 0.0
		if along > 0 {
			s = sign * math.Sqrt(max(limit-sum+down, 0)/along)
		}
		for c := range d {
			d[c] += s*hg[c] - hc[c]
		}
		return d, true
	})
}

// flat is a change of the sum of squares, over the whole range of a coordinate,
// that is none.
const flat = 1e-6

// gradient returns that of a function by central differences.
func (b *Box) gradient(f func(Point) float64, at Point) (g Point) {
	for c := range b.Coordinates {
		up, down := at, at
		up[c] = min(at[c]+gradientStep, b.High[c])
		down[c] = max(at[c]-gradientStep, b.Low[c])
		g[c] = (f(up) - f(down)) / (up[c] - down[c])
	}
	return g
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
