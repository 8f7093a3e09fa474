package fit

import "math"

// MostCoordinates is the most that a Box has.
const MostCoordinates = 3

// Point is a place in a Box.
type Point [MostCoordinates]float64

// Box is a weighted least-squares problem in one to three coordinates, each
// between -Reach and Reach: parameters whose own bounds a transformation has
// moved out to where nothing changes any more.
type Box struct {
	Coordinates int
	Reach       float64
	// Residuals fills r with the residuals over their errors at a point, and j,
	// where it is not nil, with their derivatives by each coordinate.
	Residuals func(at Point, r []float64, j *[MostCoordinates][]float64)

	r    []float64
	j    [MostCoordinates][]float64
	next []float64
}

// NewBox returns a problem of n residuals.
func NewBox(coordinates, n int, reach float64, residuals func(Point, []float64, *[MostCoordinates][]float64)) *Box {
	b := &Box{Coordinates: coordinates, Reach: reach, Residuals: residuals}
	buffer := make([]float64, (2+MostCoordinates)*n)
	b.r, b.next = buffer[:n:n], buffer[n:2*n:2*n]
	for c := range b.j {
		b.j[c] = buffer[(2+c)*n : (3+c)*n : (3+c)*n]
	}
	return b
}

// Least is a solution of a Box.
type Least struct {
	At      Point
	Sum     float64 // of squares
	Settled bool
}

const (
	walkSteps  = 60
	trialSteps = 6
	leastStep  = 1e-11 // of a coordinate; a walk that makes no longer step has settled
	kept       = 3     // starts that are tried
)

// Minimum returns the least sum of squares that a walk finds from the best of
// the starts: damped Gauss-Newton steps (Marquardt 1963, J. Soc. Ind. Appl. Math.
// 11:431-441) from a few of them, and on from the best. A coordinate that
// reaches the end of its range and would go on is held there.
func (b *Box) Minimum(starts []Point) (Least, bool) {
	type start struct {
		at  Point
		sum float64
	}
	var best [kept]start
	n := 0
	for _, at := range starts {
		sum := b.Sum(at)
		if math.IsNaN(sum) || math.IsInf(sum, 0) {
			continue
		}
		k := n
		for k > 0 && best[k-1].sum > sum {
			k--
		}
		if k == kept {
			continue
		}
		n = min(n+1, kept)
		copy(best[k+1:n], best[k:])
		best[k] = start{at, sum}
	}
	if n == 0 {
		return Least{}, false
	}
	least := Least{Sum: math.Inf(1)}
	for _, s := range best[:n] {
		if l := b.walk(s.at, trialSteps); l.Sum < least.Sum {
			least = l
		}
	}
	if !least.Settled {
		least = b.walk(least.At, walkSteps)
	}
	return least, true
}

// Sum returns the sum of squares at a point.
func (b *Box) Sum(at Point) float64 {
	b.Residuals(at, b.next, nil)
	return squares(b.next)
}

func squares(r []float64) float64 {
	s := 0.0
	for _, v := range r {
		s += v * v
	}
	return s
}

// local is the quadratic model of the sum of squares round a point: sum + 2
// slope'd + d'curve d.
type local struct {
	sum   float64
	slope Point
	curve [MostCoordinates][MostCoordinates]float64
}

func (b *Box) local(at Point) (l local) {
	b.Residuals(at, b.r, &b.j)
	l.sum = squares(b.r)
	for p := range b.Coordinates {
		jp := b.j[p][:len(b.r)]
		for i, v := range b.r {
			l.slope[p] += jp[i] * v
		}
		for q := range p + 1 {
			s := 0.0
			jq := b.j[q][:len(jp)]
			for i, v := range jp {
				s += v * jq[i]
			}
			l.curve[p][q], l.curve[q][p] = s, s
		}
	}
	return l
}

// walk goes down from a point.
func (b *Box) walk(at Point, steps int) Least {
	l := b.local(at)
	lambda := 1e-3
	settled := false
	for range steps {
		free := b.free(at, l.slope)
		step, ok := l.step(free, lambda)
		if !ok {
			lambda = max(10*lambda, 1e-6)
			if lambda > 1e12 {
				settled = true // nothing depends on what is free
				break
			}
			continue
		}
		next := b.clip(at, step)
		longest := distance(at, next)
		if longest < leastStep {
			settled = true
			break
		}
		if sum := b.Sum(next); !(sum <= l.sum*(1+1e-15)) { // NaN too
			if lambda > 1e12 {
				break
			}
			lambda = max(10*lambda, 1e-6)
			continue
		}
		at = next
		l = b.local(at)
		if lambda /= 10; lambda < 1e-9 {
			lambda = 0
		}
	}
	least := Least{At: at, Sum: l.sum, Settled: settled}
	return least
}

// free tells which coordinates may move: all but those at an end of their range
// that the slope pushes outwards.
func (b *Box) free(at, slope Point) (free [MostCoordinates]bool) {
	for c := range b.Coordinates {
		free[c] = !(at[c] >= b.Reach && slope[c] < 0 || at[c] <= -b.Reach && slope[c] > 0)
	}
	return free
}

// longestStep bounds a step in any coordinate.
const longestStep = 2.0

// clip returns the point a step away, the step shortened to the longest one
// and cut at the ends of the range.
func (b *Box) clip(at, step Point) Point {
	longest := 0.0
	for c := range b.Coordinates {
		longest = max(longest, math.Abs(step[c]))
	}
	f := 1.0
	if longest > longestStep {
		f = longestStep / longest
	}
	for c := range b.Coordinates {
		at[c] = min(max(at[c]+f*step[c], -b.Reach), b.Reach)
	}
	return at
}

func distance(a, b Point) float64 {
	d := 0.0
	for c := range a {
		d = max(d, math.Abs(a[c]-b[c]))
	}
	return d
}

// step solves (curve + lambda diag curve) step = -slope in the free coordinates.
func (l *local) step(free [MostCoordinates]bool, lambda float64) (Point, bool) {
	a := l.curve
	var r Point
	for c := range a {
		a[c][c] *= 1 + lambda
		r[c] = -l.slope[c]
	}
	return solve3(&a, r, free)
}

// solve3 solves a positive definite system in the free coordinates by
// Cholesky's decomposition with the diagonal scaled to 1; false where it is
// singular.
func solve3(a *[MostCoordinates][MostCoordinates]float64, r Point, free [MostCoordinates]bool) (Point, bool) {
	var wide [parameters][parameters]float64
	var right [parameters]float64
	var f [parameters]bool
	for p := range a {
		copy(wide[p][:], a[p][:])
		right[p], f[p] = r[p], free[p]
	}
	x, ok := solve(&wide, right, f)
	return Point(x[:MostCoordinates]), ok
}

// Errors returns the standard errors of unit weight of the coordinates at a
// point, by the inverse of the curvature; false where it has none.
func (b *Box) Errors(at Point) (e Point, ok bool) {
	l := b.local(at)
	var free [MostCoordinates]bool
	for c := range b.Coordinates {
		free[c] = true
	}
	for c := range b.Coordinates {
		var unit Point
		unit[c] = 1
		x, solved := solve3(&l.curve, unit, free)
		if !solved || !(x[c] > 0) {
			return e, false
		}
		e[c] = math.Sqrt(x[c])
	}
	return e, true
}
