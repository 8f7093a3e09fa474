package fit

import "math"

// MostCoordinates is the most that a Box has.
const MostCoordinates = 3

// Point is a place in a Box.
type Point [MostCoordinates]float64

// matrix is a symmetric one over the coordinates.
type matrix [MostCoordinates]Point

// Box is a weighted least-squares problem in one to three coordinates, each
// within a range.
type Box struct {
	Coordinates int
	Low, High   Point
	// Residuals fills r with the residuals over their errors at a point, and j,
	// where it is not nil, with their derivatives by each coordinate.
	Residuals func(at Point, r []float64, j *[MostCoordinates][]float64)

	r, trial []float64
	j        [MostCoordinates][]float64
}

// NewBox returns a problem of n residuals.
func NewBox(coordinates, n int, low, high Point, residuals func(Point, []float64, *[MostCoordinates][]float64)) *Box {
	b := &Box{Coordinates: coordinates, Low: low, High: high, Residuals: residuals}
	buffer := make([]float64, (2+MostCoordinates)*n)
	b.r, b.trial = buffer[:n:n], buffer[n:2*n:2*n]
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

	round local // the quadratic model there
}

const (
	walkSteps   = 80
	trialSteps  = 4
	secondFrom  = 6     // steps after which second derivatives take part,
	secondEvery = 6     // and are taken anew
	leastStep   = 1e-11 // of a coordinate; a walk that makes no longer step has settled
	kept        = 3     // starts that are tried
	lateSteps   = 20    // a walk whose last ones lower the sum by no more than
	rounding    = 1e-12 // relative change of a sum that may be none
	level       = 1e-9  // this, relative, has come to the bottom
)

// Minimum returns the least sum of squares that a walk finds from the best of
// the starts: damped Gauss-Newton steps (Marquardt 1963, J. Soc. Ind. Appl. Math.
// 11:431-441) from a few of them, and on from the best, with second derivatives
// where these do not settle. A coordinate at the end of its range that would go
// on is held there.
func (b *Box) Minimum(starts []Point) (Least, bool) {
	var best [kept]Least
	n := 0
	for _, at := range starts {
		sum := b.Sum(at)
		if math.IsNaN(sum) || math.IsInf(sum, 0) {
			continue
		}
		k := n
		for k > 0 && best[k-1].Sum > sum {
			k--
		}
		if k == kept {
			continue
		}
		n = min(n+1, kept)
		copy(best[k+1:n], best[k:])
		best[k] = Least{At: at, Sum: sum}
	}
	if n == 0 {
		return Least{}, false
	}
	least := Least{Sum: math.Inf(1)}
	for _, s := range best[:n] {
		if l := b.walk(s.At, trialSteps); l.Sum < least.Sum {
			least = l
		}
	}
	return b.walk(least.At, walkSteps), true
}

// From returns the least sum of squares that a walk from a point finds.
func (b *Box) From(at Point) Least { return b.walk(at, walkSteps) }

// Sum returns the sum of squares at a point.
func (b *Box) Sum(at Point) float64 {
	b.Residuals(at, b.trial, nil)
	return squares(b.trial)
}

func squares(r []float64) float64 {
	s := 0.0
	for _, v := range r {
		s += v * v
	}
	return s
}

// walk goes down from a point.
func (b *Box) walk(at Point, steps int) Least {
	l := b.local(at)
	lambda := 1e-3
	late := math.Inf(1)
	var more matrix
	for n := range steps {
		if n == steps-lateSteps {
			late = l.sum
		}
		plain := l
		if n >= secondFrom {
			if (n-secondFrom)%secondEvery == 0 {
				more = b.second(&l, at)
			}
			l.with(&more, b.all())
		}
		ok := false
		for ; lambda < 1e12; lambda = max(10*lambda, 1e-6) {
			var d Point
			if d, ok = b.down(&l, at, lambda); !ok {
				continue
			}
			next := b.clip(at, d)
			if distance(at, next) < leastStep {
				return Least{At: at, Sum: l.sum, Settled: true, round: plain}
			}
			if m := b.local(next); m.sum <= l.sum*(1+rounding) { // not NaN
				at, l = next, m
				break
			}
			ok = false
		}
		if !ok {
			// Nothing that may move changes the sum, or rounding hides how.
			return Least{At: at, Sum: l.sum, Settled: true, round: plain}
		}
		if lambda /= 10; lambda < 1e-9 {
			lambda = 0
		}
	}
	// A valley without an end has its sum all the same.
	return Least{At: at, Sum: l.sum, Settled: late-l.sum <= level*(1+l.sum), round: l}
}

// local is the quadratic model of the sum of squares round a point: sum + 2
// slope'd + d'curve d.
type local struct {
	sum   float64
	slope Point
	curve matrix
}

// local returns that of Gauss and Newton, without second derivatives. Columns of
// coordinates that the problem does not have are 0.
func (b *Box) local(at Point) (l local) {
	b.Residuals(at, b.r, &b.j)
	j0, j1, j2 := b.j[0][:len(b.r)], b.j[1][:len(b.r)], b.j[2][:len(b.r)]
	var s, r0, r1, r2, a00, a01, a02, a11, a12, a22 float64
	for i, r := range b.r {
		x, y, z := j0[i], j1[i], j2[i]
		s += r * r
		r0 += x * r
		r1 += y * r
		r2 += z * r
		a00 += x * x
		a01 += x * y
		a02 += x * z
		a11 += y * y
		a12 += y * z
		a22 += z * z
	}
	l.sum, l.slope = s, Point{r0, r1, r2}
	l.curve = matrix{{a00, a01, a02}, {a01, a11, a12}, {a02, a12, a22}}
	return l
}

// secondStep is the step of the differences that give second derivatives.
const secondStep = 1e-5

// second returns what second derivatives, by differences of the slope, add to
// Gauss and Newton's curvature at a point.
func (b *Box) second(l *local, at Point) (more matrix) {
	for c := range b.Coordinates {
		up, down := at, at
		up[c] = min(at[c]+secondStep, b.High[c])
		down[c] = max(at[c]-secondStep, b.Low[c])
		u, d := b.local(up), b.local(down)
		for q := range b.Coordinates {
			more[c][q] = (u.slope[q]-d.slope[q])/(up[c]-down[c]) - l.curve[c][q]
		}
	}
	for p := range b.Coordinates {
		for q := range p {
			more[p][q] = (more[p][q] + more[q][p]) / 2
			more[q][p] = more[p][q]
		}
	}
	return more
}

// with adds them where they leave the model definite.
func (l *local) with(more *matrix, free [MostCoordinates]bool) {
	curve := l.curve
	for p := range curve {
		for q := range curve[p] {
			curve[p][q] += more[p][q]
		}
	}
	if _, ok := solveFree(&curve, l.slope, free); ok {
		l.curve = curve
	}
}

func (b *Box) all() (free [MostCoordinates]bool) {
	for c := range b.Coordinates {
		free[c] = true
	}
	return free
}

// down returns the step to the least value of the model, its curvature damped by
// lambda, within the ranges: a coordinate that would leave its range goes to the
// end of it, and the others follow.
func (b *Box) down(l *local, at Point, lambda float64) (d Point, ok bool) {
	damped := *l
	for c := range damped.curve {
		damped.curve[c][c] *= 1 + lambda
	}
	return b.within(&damped, at, func(_ float64, slope Point, free [MostCoordinates]bool) (Point, bool) {
		x, ok := solveFree(&damped.curve, slope, free)
		for c := range x {
			x[c] = -x[c]
		}
		return x, ok
	})
}

// within returns the step that a solver gives for the free coordinates, with
// those that would leave their range held at the end of it. The solver is given
// the sum and the slope of the model with the held ones moved.
func (b *Box) within(l *local, at Point, solver func(sum float64, slope Point, free [MostCoordinates]bool) (Point, bool)) (d Point, ok bool) {
	sum, slope, free := l.sum, l.slope, b.all()
	for range MostCoordinates + 1 {
		x, ok := solver(sum, slope, free)
		if !ok {
			return d, false
		}
		worst, over := -1, 0.0
		for c := range b.Coordinates {
			if !free[c] {
				continue
			}
			if out := max(at[c]+x[c]-b.High[c], b.Low[c]-at[c]-x[c]) / (b.High[c] - b.Low[c]); out > over {
				worst, over = c, out
			}
		}
		if worst < 0 {
			for c := range b.Coordinates {
				if free[c] {
					d[c] = x[c]
				}
			}
			return d, true
		}
		end := b.High[worst]
		if x[worst] < 0 {
			end = b.Low[worst]
		}
		d[worst] = end - at[worst]
		free[worst] = false
		sum += 2*slope[worst]*d[worst] + l.curve[worst][worst]*d[worst]*d[worst]
		for c := range slope {
			slope[c] += l.curve[c][worst] * d[worst]
		}
	}
	return d, true
}

// longestStep bounds a step in any coordinate.
const longestStep = 2.0

// clip returns the point a step away, the step shortened to the longest one.
func (b *Box) clip(at, d Point) Point {
	f := 1.0
	if longest := distance(d, Point{}); longest > longestStep {
		f = longestStep / longest
	}
	for c := range b.Coordinates {
		at[c] = min(max(at[c]+f*d[c], b.Low[c]), b.High[c])
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

// solveFree solves a positive definite system in the free coordinates on which
// it depends by Cholesky's decomposition with the diagonal scaled to 1; false
// where it is singular.
func solveFree(a *matrix, r Point, free [MostCoordinates]bool) (Point, bool) {
	var wide [parameters][parameters]float64
	var right [parameters]float64
	var f [parameters]bool
	for p := range a {
		copy(wide[p][:], a[p][:])
		right[p], f[p] = r[p], free[p] && a[p][p] != 0
	}
	x, ok := solve(&wide, right, f)
	return Point(x[:MostCoordinates]), ok
}

// Errors returns the standard errors of the coordinates at a point for residuals
// of unit error, by the inverse of the curvature; false where it has none.
func (b *Box) Errors(at Point) (e Point, ok bool) {
	l := b.local(at)
	for c := range b.Coordinates {
		var unit Point
		unit[c] = 1
		x, solved := solveFree(&l.curve, unit, b.all())
		if !solved || !(x[c] > 0) {
			return e, false
		}
		e[c] = math.Sqrt(x[c])
	}
	return e, true
}
