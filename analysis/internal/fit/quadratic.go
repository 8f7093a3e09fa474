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
		e = min(q.w1y/q.w11, ceiling)
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

// cut is the part of the plane of end and drop in which a sum of squares is at
// most a limit, drop >= 0 and end + drop <= ceiling: an ellipse cut by two lines.
type cut struct {
	*quadratic
	ceiling, end, drop, det float64 // middle of the ellipse
	room                    float64 // limit less the sum there; below 0: no ellipse
	corners                 [4]point
	n                       int // corners on the lines
}

// cut returns the part, and false where there is none.
func (q *quadratic) cut(limit, ceiling float64) (c cut, ok bool) {
	c.quadratic, c.ceiling, c.room = q, ceiling, -1
	if c.end, c.drop, c.det, ok = q.centre(); ok {
		if c.room = limit - q.at(c.end, c.drop); c.room < 0 {
			return c, false
		}
	}
	c.onFlat(limit)
	c.onFull(limit)
	return c, true
}

// extremes widens s by the values that the linear function a*end + b*drop takes
// in the part: its extremes are the ellipse's own or lie on one of the lines.
func (c *cut) extremes(a, b float64, s *Range) {
	if c.room >= 0 {
		// H^-1 (a,b)' and (a,b) H^-1 (a,b)'
		de, dd := (a*c.w22-b*c.w12)/c.det, (b*c.w11-a*c.w12)/c.det
		if v := a*de + b*dd; v > 0 {
			f := math.Sqrt(c.room / v)
			for _, t := range [2]float64{f, -f} {
				if x, y := c.end+t*de, c.drop+t*dd; y >= 0 && x+y <= c.ceiling {
					s.take(a*x + b*y)
				}
			}
		}
	}
	for _, p := range c.corners[:c.n] {
		s.take(a*p.end + b*p.drop)
	}
}

// onFlat takes the ends of the part of drop = 0 that lies in it.
func (c *cut) onFlat(limit float64) {
	if !(c.w11 > 0) {
		return
	}
	m := c.w1y / c.w11
	r := limit - c.at(m, 0)
	if r < 0 {
		return
	}
	h := math.Sqrt(r / c.w11)
	if m-h <= c.ceiling {
		c.add(m-h, 0)
		c.add(min(m+h, c.ceiling), 0)
	}
}

// onFull takes the ends of the part of end + drop = ceiling that lies in it.
func (c *cut) onFull(limit float64) {
	a, m := c.full(c.ceiling)
	if !(a > singular*c.w11) {
		return
	}
	r := limit - c.at(c.ceiling-m, m)
	if r < 0 {
		return
	}
	h := math.Sqrt(r / a)
	if d := m + h; d >= 0 {
		c.add(c.ceiling-d, d)
		d = max(m-h, 0)
		c.add(c.ceiling-d, d)
	}
}

func (c *cut) add(end, drop float64) {
	c.corners[c.n] = point{end: end, drop: drop}
	c.n++
}
