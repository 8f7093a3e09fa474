package rainfall

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
)

// ErrPlaces is returned for places that divide no area among them.
var ErrPlaces = errors.New("places of cans")

// maxThiessen is how many cans polygons are made for: the work grows with the
// square of their number.
const maxThiessen = 200

// Point is a place on the table, cm.
type Point struct{ X, Y float64 }

// ThiessenWeights returns the share of the area that each can stands for: that
// of the points nearest to it, within the rectangle about all of them that is
// wider by half a spacing on each side.
//
//	w_j = area of polygon j / area of the rectangle, sum of w = 1
//	(a + s)(b + s) = n s^2,  a, b the extents of the cans, s the spacing
//
// so that cans on a regular square grid, which stand for s^2 each, weigh alike.
// Cans at one place share its polygon.
// Units: one unit of length. Source: [Thiessen1911]; the rectangle is ours, since
// where a table ends is seldom known.
// Errors: ErrPlaces for fewer than two different places, places that are not
// finite, and more than 200.
func ThiessenWeights(places []Point) ([]float64, error) {
	unique, at := distinctPlaces(places)
	n := len(unique)
	if n < 2 || n > maxThiessen {
		return nil, fmt.Errorf("%w: %d different ones, want 2 to %d", ErrPlaces, n, maxThiessen)
	}
	low, high := unique[0], unique[0]
	for _, p := range unique {
		if math.IsNaN(p.X+p.Y) || math.IsInf(p.X+p.Y, 0) {
			return nil, fmt.Errorf("%w: %v", ErrPlaces, p)
		}
		low.X, low.Y = min(low.X, p.X), min(low.Y, p.Y)
		high.X, high.Y = max(high.X, p.X), max(high.Y, p.Y)
	}
	margin := spacing(n, high.X-low.X, high.Y-low.Y) / 2
	box := []Point{{low.X - margin, low.Y - margin}, {high.X + margin, low.Y - margin}, {high.X + margin, high.Y + margin}, {low.X - margin, high.Y + margin}}
	areas := make([]float64, n)
	var total float64
	for i := range unique {
		areas[i] = nearest(unique, i, box)
		total += areas[i]
	}
	count := make([]int, n)
	for _, k := range at {
		count[k]++
	}
	weights := make([]float64, len(places))
	for i, k := range at {
		weights[i] = areas[k] / (total * float64(count[k]))
	}
	return weights, nil
}

// spacing solves (a + s)(b + s) = n s^2 for s > 0.
func spacing(n int, a, b float64) float64 {
	m := float64(n - 1)
	return (a + b + math.Sqrt((a+b)*(a+b)+4*m*a*b)) / (2 * m)
}

// distinctPlaces returns the different places, and which of them each place is.
func distinctPlaces(places []Point) (unique []Point, at []int) {
	at = make([]int, len(places))
	index := make(map[Point]int, len(places))
	for i, p := range places {
		k, seen := index[p]
		if !seen {
			k = len(unique)
			index[p] = k
			unique = append(unique, p)
		}
		at[i] = k
	}
	return unique, at
}

// nearest returns the area of the part of a convex polygon that is nearer to
// place i than to any other.
func nearest(places []Point, i int, polygon []Point) float64 {
	cell := slices.Clone(polygon)
	for j, q := range places {
		if j != i {
			cell = cut(cell, places[i], q)
		}
	}
	var twice float64 // from the place itself, so that no digits are lost to a far origin
	o := places[i]
	for k, p := range cell {
		q := cell[(k+1)%len(cell)]
		twice += (p.X-o.X)*(q.Y-o.Y) - (q.X-o.X)*(p.Y-o.Y)
	}
	return max(0, twice/2)
}

// cut keeps the part of a convex polygon that is nearer to p than to q.
func cut(polygon []Point, p, q Point) []Point {
	// Nearer to p: (x - mid) . (q - p) <= 0.
	side := func(x Point) float64 {
		return (x.X-(p.X+q.X)/2)*(q.X-p.X) + (x.Y-(p.Y+q.Y)/2)*(q.Y-p.Y)
	}
	out := make([]Point, 0, len(polygon)+1)
	for k, a := range polygon {
		b := polygon[(k+1)%len(polygon)]
		sa, sb := side(a), side(b)
		if sa <= 0 {
			out = append(out, a)
		}
		if sa < 0 && sb > 0 || sa > 0 && sb < 0 {
			t := sa / (sa - sb)
			out = append(out, Point{a.X + t*(b.X-a.X), a.Y + t*(b.Y-a.Y)})
		}
	}
	return out
}

// spacingTolerance is the share of a spacing by which a can may miss its place on a grid.
const spacingTolerance = 0.01

// onGrid reports whether places fill a regular grid: rows at equal distances,
// cans at equal distances in them, and every row either as the first or shifted
// by half a spacing in turn. Each place is taken equally often. Then inner cans
// stand for equal areas.
func onGrid(places []Point) bool {
	turned := make([]Point, len(places))
	for i, p := range places {
		turned[i] = Point{p.Y, p.X}
	}
	return inRows(places) || inRows(turned)
}

// row is the cans of a grid that have one Y: where they begin, and how many there are.
type row struct {
	y, first float64
	n        int
}

func inRows(places []Point) bool {
	unique, at := distinctPlaces(places)
	count := make([]int, len(unique))
	for _, k := range at {
		count[k]++
	}
	if slices.Min(count) != slices.Max(count) {
		return false
	}
	rows, step, ok := rowsOf(unique)
	if !ok || len(rows) == 1 {
		return ok
	}
	height := (rows[len(rows)-1].y - rows[0].y) / float64(len(rows)-1)
	shift := rows[1].first - rows[0].first
	staggered := near(math.Abs(shift), step/2, step)
	if !staggered && !near(shift, 0, step) {
		return false
	}
	for k, r := range rows {
		like := rows[0]
		if staggered && k%2 == 1 {
			like = rows[1]
		}
		if !near(r.y, rows[0].y+float64(k)*height, height) || r.n != like.n || !near(r.first, like.first, step) {
			return false
		}
	}
	return max(rows[0].n, rows[1].n)-min(rows[0].n, rows[1].n) <= 1
}

func near(a, b, spacing float64) bool { return math.Abs(a-b) <= spacingTolerance*math.Abs(spacing) }

// rowsOf divides places into rows of one Y and returns the spacing in them;
// false where it is not the same everywhere. Rows of one can have no spacing.
func rowsOf(unique []Point) (rows []row, step float64, ok bool) {
	sorted := slices.Clone(unique)
	slices.SortFunc(sorted, func(a, b Point) int { return cmp.Or(cmp.Compare(a.Y, b.Y), cmp.Compare(a.X, b.X)) })
	for i, p := range sorted {
		if k := len(rows) - 1; k < 0 || rows[k].y != p.Y {
			rows = append(rows, row{p.Y, p.X, 1})
			continue
		}
		r := &rows[len(rows)-1]
		d := p.X - sorted[i-1].X
		if step == 0 {
			step = d
		}
		if !near(d, step, step) {
			return nil, 0, false
		}
		r.n++
	}
	return rows, step, true
}
