package figure

import (
	"image/color"
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// polygons are the markers of treatments on a circle of radius 1, y upward. The
// first one is the circle itself.
var polygons = [...][]vg.Point{
	nil,
	{{X: -0.8, Y: -0.8}, {X: 0.8, Y: -0.8}, {X: 0.8, Y: 0.8}, {X: -0.8, Y: 0.8}},
	{{X: -0.95, Y: -0.75}, {X: 0.95, Y: -0.75}, {X: 0, Y: 1}},
	{{X: 0, Y: -1.1}, {X: 0.9, Y: 0}, {X: 0, Y: 1.1}, {X: -0.9, Y: 0}},
	{{X: -0.95, Y: 0.75}, {X: 0.95, Y: 0.75}, {X: 0, Y: -1}},
	{{X: -0.35, Y: -1}, {X: 0.35, Y: -1}, {X: 0.35, Y: -0.35}, {X: 1, Y: -0.35}, {X: 1, Y: 0.35}, {X: 0.35, Y: 0.35},
		{X: 0.35, Y: 1}, {X: -0.35, Y: 1}, {X: -0.35, Y: 0.35}, {X: -1, Y: 0.35}, {X: -1, Y: -0.35}, {X: -0.35, Y: -0.35}},
	{{X: -1, Y: -0.4}, {X: 0, Y: -1}, {X: 1, Y: -0.4}, {X: 1, Y: 0.4}, {X: 0, Y: 1}, {X: -1, Y: 0.4}},
}

// marker draws the marker of a treatment, outlined so that pale colours stand out.
func marker(c *draw.Canvas, s Style, at vg.Point, radius vg.Length) {
	shape(c, polygons[s.second()], s.paint(), at, radius)
}

// shape fills a polygon, or a circle, and outlines it.
func shape(c *draw.Canvas, corners []vg.Point, fill color.Color, at vg.Point, radius vg.Length) {
	var p vg.Path
	if corners == nil {
		p.Move(vg.Point{X: at.X + radius, Y: at.Y})
		p.Arc(at, radius, 0, 2*math.Pi)
	}
	for i, q := range corners {
		v := vg.Point{X: at.X + q.X*radius, Y: at.Y + q.Y*radius}
		if i == 0 {
			p.Move(v)
		} else {
			p.Line(v)
		}
	}
	p.Close()
	c.SetColor(fill)
	c.Fill(p)
	c.SetLineStyle(draw.LineStyle{Color: ink, Width: 0.8})
	c.Stroke(p)
}

// box fills a rectangle; Drained is hatched, so that it can be told from the
// others in grey.
func box(c *draw.Canvas, r Role, from, to vg.Point) {
	corners := []vg.Point{from, {X: to.X, Y: from.Y}, to, {X: from.X, Y: to.Y}}
	c.FillPolygon(r.paint(), corners)
	if r == Drained {
		hatch(c, from, to)
	}
	c.StrokeLines(draw.LineStyle{Color: ink, Width: 0.7}, append(corners, from))
}

// hatch draws lines at 45 degrees within a rectangle.
func hatch(c *draw.Canvas, from, to vg.Point) {
	const step = 5
	w, h := to.X-from.X, to.Y-from.Y
	if !(w >= 0 && h >= 0 && w+h < 1e4) {
		return // it lies far beyond the chart
	}
	for d := vg.Length(step); d < w+h; d += step {
		x0, y0 := from.X+d, from.Y
		if x0 > to.X {
			x0, y0 = to.X, from.Y+d-w
		}
		x1, y1 := from.X, from.Y+d
		if y1 > to.Y {
			x1, y1 = from.X+d-h, to.Y
		}
		c.StrokeLine2(draw.LineStyle{Color: ink, Width: 0.5}, x0, y0, x1, y1)
	}
}

// arrow draws an arrowhead that points to the right.
func arrow(c *draw.Canvas, fill color.Color, tip vg.Point) {
	c.FillPolygon(fill, []vg.Point{tip, {X: tip.X - 7, Y: tip.Y + 4}, {X: tip.X - 7, Y: tip.Y - 4}})
}
