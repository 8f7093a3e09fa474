package figure

import (
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Plan shows catch cans from above: a circle with what it caught at each place, the
// darker the more.
type Plan struct {
	Cans           []Can
	XLabel, YLabel string
}

// Can is a catch can on a Plan.
type Can struct {
	X, Y  float64
	Share float64 // of the mean catch, 1 is the mean
	Text  string
}

const (
	planWidth  vg.Length = 340
	planHeight vg.Length = 240
	canRadius  vg.Length = 15
)

// Figure draws the plan.
func (k Plan) Figure() *Figure {
	return &Figure{width: planWidth, height: planHeight, draw: func(c draw.Canvas) {
		p := newPlot()
		p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = k.span()
		p.X.Label.Text, p.Y.Label.Text = clean(k.XLabel), clean(k.YLabel)
		p.Add(gridlines{x: true, y: true})
		area := draw.Crop(c, 0, -8, 0, -8)
		p.Draw(area)
		inner := p.DataCanvas(area)
		tx, ty := p.Transforms(&inner)
		st := letters(ink, 10.5)
		st.XAlign = draw.XCenter
		for _, can := range k.Cans {
			at := vg.Point{X: tx(can.X), Y: ty(can.Y)}
			fill := drain
			switch {
			case can.Share < 0.9:
				fill = paper
			case can.Share < 1.1:
				fill = store
			}
			shape(&inner, nil, fill, at, canRadius)
			inner.FillText(st, at, fit(st, can.Text, 2*canRadius))
		}
	}}
}

// span leaves room for the circles at the rim.
func (k Plan) span() (x0, x1, y0, y1 float64) {
	x0, x1, y0, y1 = math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, c := range k.Cans {
		x0, x1, y0, y1 = min(x0, c.X), max(x1, c.X), min(y0, c.Y), max(y1, c.Y)
	}
	if !(x0 <= x1) {
		return 0, 1, 0, 1
	}
	dx, dy := max(0.12*(x1-x0), 1), max(0.18*(y1-y0), 1)
	return x0 - dx, x1 + dx, y0 - dy, y1 + dy
}
