package fit

import "math"

// quadratic is the weighted sum of squares of y = end*b1 + drop*b2 for one
// given shape, as a function of end and drop, by its sums over the data. plus
// is added to it.
type quadratic struct {
	w11, w12, w22, w1y, w2y, wyy, plus float64
}

// at returns the sum of squares.
func (q *quadratic) at(end, drop float64) float64 {
	return q.plus + q.wyy - 2*(end*q.w1y+drop*q.w2y) + end*end*q.w11 + 2*end*drop*q.w12 + drop*drop*q.w22
}

// singular is the relative determinant below which end and drop cannot be told
// apart.
const singular = 1e-9

// centre returns the unconstrained minimum and whether there is just one.
func (q *quadratic) centre() (end, drop, det float64, ok bool) {
	det = q.w11*q.w22 - q.w12*q.w12
	if !(det > singular*q.w11*q.w22) {
		return 0, 0, 0, false
	}
	return (q.w1y*q.w22 - q.w2y*q.w12) / det, (q.w11*q.w2y - q.w12*q.w1y) / det, det, true
}

// point is a pair of linear parameters with its sum of squares.
type point struct{ end, drop, sum float64 }

// best returns the minimum over drop >= 0 and end + drop <= ceiling. Where a
// line of points shares it, best returns the middle of that line. A minimum
// above worse may be returned as any point with a sum above worse.
func (q *quadratic) best(ceiling, worse float64) point {
	e, d, _, ok := q.centre()
	if ok {
		p := point{e, d, q.at(e, d)}
		if p.sum >= worse || d >= 0 && e+d <= ceiling {
			return p
		}
	}
	a, b := q.bestFlat(ceiling), q.bestFull(ceiling)
	if !ok && math.Abs(a.sum-b.sum) <= 1e-6*(1+math.Abs(a.sum)) {
		e, d = (a.end+b.end)/2, (a.drop+b.drop)/2
		return point{e, d, q.at(e, d)}
	}
	if b.sum < a.sum {
		return b
	}
	return a
}

// bestFlat returns the minimum on drop = 0.
func (q *quadratic) bestFlat(ceiling float64) point {
	e := ceiling
	if q.w11 > 0 {
		e = math.Min(q.w1y/q.w11, ceiling)
	}
	return point{e, 0, q.at(e, 0)}
}

// full returns curvature and minimum of the sum of squares in drop on the line
// end + drop = ceiling.
func (q *quadratic) full(ceiling float64) (curvature, drop float64) {
	// y - ceiling b1 = drop (b2 - b1)
	a := q.w22 - 2*q.w12 + q.w11
	return a, (q.w2y - q.w1y - ceiling*(q.w12-q.w11)) / a
}

// bestFull returns the minimum on end + drop = ceiling.
func (q *quadratic) bestFull(ceiling float64) point {
	a, d := q.full(ceiling)
	if !(a > singular*q.w11) || d < 0 {
		d = 0
	}
	return point{ceiling - d, d, q.at(ceiling-d, d)}
}

// extremes widens s by the values that the linear function a*end + b*drop
// takes where the sum of squares is at most limit, drop >= 0 and end + drop <=
// ceiling. The region is an ellipse cut by two lines: its extremes are the
// ellipse's own or lie on one of the lines.
func (q *quadratic) extremes(a, b, limit, ceiling float64, s *Range) {
	if e, d, det, ok := q.centre(); ok {
		r := limit - q.at(e, d)
		if r < 0 {
			return
		}
		// H^-1 (a,b)' and (a,b) H^-1 (a,b)'
		de, dd := (a*q.w22-b*q.w12)/det, (b*q.w11-a*q.w12)/det
		if v := a*de + b*dd; v > 0 {
			f := math.Sqrt(r / v)
			for _, t := range [2]float64{f, -f} {
				if x, y := e+t*de, d+t*dd; y >= 0 && x+y <= ceiling {
					s.take(a*x + b*y)
				}
			}
		}
	}
	q.onFlat(a, limit, ceiling, s)
	q.onFull(a, b, limit, ceiling, s)
}

// onFlat takes the ends of the part of drop = 0 that lies in the region.
func (q *quadratic) onFlat(a, limit, ceiling float64, s *Range) {
	if !(q.w11 > 0) {
		return
	}
	m := q.w1y / q.w11
	r := limit - q.at(m, 0)
	if r < 0 {
		return
	}
	h := math.Sqrt(r / q.w11)
	if m-h <= ceiling {
		s.take(a * (m - h))
		s.take(a * math.Min(m+h, ceiling))
	}
}

// onFull takes the ends of the part of end + drop = ceiling that lies in it.
func (q *quadratic) onFull(a, b, limit, ceiling float64, s *Range) {
	c, m := q.full(ceiling)
	if !(c > singular*q.w11) {
		return
	}
	r := limit - q.at(ceiling-m, m)
	if r < 0 {
		return
	}
	h := math.Sqrt(r / c)
	if d := m + h; d >= 0 {
		s.take(a*(ceiling-d) + b*d)
		d = math.Max(m-h, 0)
		s.take(a*(ceiling-d) + b*d)
	}
}
