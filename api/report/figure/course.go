package figure

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sheetwash/analysis/quantity"
)

// Course is a chart of something over time or another ordered quantity.
type Course struct {
	Lines          []Line
	Marks          []Mark
	XLabel, YLabel string
	FromZero       bool              // the upright axis begins at 0
	YMax           quantity.Optional // where the upright axis ends at least
	XMin, XMax     quantity.Optional // where the level axis begins and ends at least
	Ticks          []Tick            // of the level axis, in place of numbers
}

// Tick is a place on the level axis with its name.
type Tick struct {
	X    float64
	Text string
}

// Line is a line of a Course. Where both are given, Of decides how it looks.
type Line struct {
	Name   string
	Parts  [][]Point // drawn apart, with a gap between them
	Role   Role
	Style  *Style  // of a treatment: its colour, dash and marker
	Thin   bool    // dashed and thin: not measured here
	Points bool    // markers with error bars, not joined
	Band   []Range // uncertainty, behind the line
	Ends   []Point // a small upright stroke: followed until here, nothing happened
}

// Point is a place on the chart; Low and High are the ends of its error bar.
type Point struct {
	X, Y      float64
	Low, High quantity.Optional
}

// Range is the uncertainty at a place, or from X to the X of the next.
type Range struct{ X, Low, High float64 }

// Mark is an upright line at a time, with what it stands for.
type Mark struct {
	X    float64
	Text string
}

const (
	courseWidth  vg.Length = 480
	courseHeight vg.Length = 210
	markHeight   vg.Length = 15
)

// Figure draws the chart.
func (k Course) Figure() *Figure {
	var samples []sample
	for _, l := range k.Lines {
		if l.Name != "" {
			samples = append(samples, sample{l.Name, l.sample})
		}
	}
	top, paintLegend := legend(samples, courseWidth)
	room := markHeight * vg.Length(len(k.Marks))
	height := top + room + courseHeight + axisRoom
	return &Figure{width: courseWidth, height: height, draw: func(c draw.Canvas) {
		paintLegend(&c)
		p := newPlot()
		p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = k.span()
		p.X.Label.Text, p.Y.Label.Text = clean(k.XLabel), clean(k.YLabel)
		if len(k.Ticks) > 0 {
			p.X.Tick.Marker = plot.TickerFunc(func(float64, float64) (out []plot.Tick) {
				for _, t := range k.Ticks {
					out = append(out, plot.Tick{Value: t.X, Label: clean(t.Text)})
				}
				return out
			})
		}
		p.Add(gridlines{y: true}, k)
		p.Draw(draw.Crop(c, 0, -8, 0, -top-room))
	}}
}

func (k Course) span() (x0, x1, y0, y1 float64) {
	x0, x1, y0, y1 = math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	see := func(x, y float64) {
		if !math.IsNaN(x) && !math.IsInf(x, 0) {
			x0, x1 = min(x0, x), max(x1, x)
		}
		if !math.IsNaN(y) && !math.IsInf(y, 0) {
			y0, y1 = min(y0, y), max(y1, y)
		}
	}
	nan := math.NaN()
	for _, l := range k.Lines {
		for _, part := range l.Parts {
			for _, q := range part {
				see(q.X, q.Y)
				see(q.X, q.Low.Or(q.Y))
				see(q.X, q.High.Or(q.Y))
			}
		}
		for _, b := range l.Band {
			see(b.X, b.High)
			see(b.X, b.Low)
		}
	}
	for _, m := range k.Marks {
		see(m.X, nan)
	}
	if k.FromZero {
		see(nan, 0)
	}
	see(k.XMin.Or(nan), nan)
	see(k.XMax.Or(nan), k.YMax.Or(nan))
	if !(x0 <= x1) {
		x0, x1 = 0, 1
	}
	if !(y0 <= y1) {
		y0, y1 = 0, 1
	}
	if x1 <= x0 {
		x0, x1 = x0-0.5, x1+0.5
	}
	if y1 <= y0 {
		y0, y1 = y0-0.5*max(1, math.Abs(y0)), y1+0.5*max(1, math.Abs(y1))
		if k.FromZero {
			y0 = min(0, y0+0.5)
		}
	}
	if y0 < 0 || !k.FromZero {
		y0 -= 0.04 * (y1 - y0)
	}
	return x0, x1, y0, y1 + 0.04*(y1-y0)
}

// Plot draws bands, marks and lines; it makes Course a plot.Plotter.
func (k Course) Plot(c draw.Canvas, p *plot.Plot) {
	tx, ty := p.Transforms(&c)
	at := func(x, y float64) vg.Point { return vg.Point{X: tx(x), Y: ty(y)} }
	for i := range k.Lines {
		k.Lines[i].drawBand(&c, at)
	}
	k.drawMarks(&c, tx)
	for i := range k.Lines {
		k.Lines[i].drawOn(&c, at)
	}
}

// drawMarks draws each mark with its text in a line of its own above the chart, the
// earliest one on top, so that no text lies on the line of another.
func (k Course) drawMarks(c *draw.Canvas, tx func(float64) vg.Length) {
	sorted := slices.SortedStableFunc(slices.Values(k.Marks), func(a, b Mark) int { return cmp.Compare(a.X, b.X) })
	for i, m := range sorted {
		x := tx(m.X)
		y := c.Max.Y + markHeight*vg.Length(len(k.Marks)-i)
		c.StrokeLine2(draw.LineStyle{Color: mute, Width: 1, Dashes: dashes[i%len(dashes)]}, x, c.Min.Y, x, y-markHeight/2)
		st := letters(ink, small)
		text := fit(st, m.Text, c.Size().X*0.7)
		left := x + 4
		if w := st.Width(text); left+w > c.Max.X+6 {
			left = x - 4 - w
		}
		c.FillText(st, vg.Point{X: left, Y: y - markHeight/2}, text)
	}
}

func (l *Line) look() draw.LineStyle {
	switch {
	case l.Style != nil:
		return draw.LineStyle{Color: l.Style.paint(), Width: 2, Dashes: l.Style.dash()}
	case l.Thin:
		return draw.LineStyle{Color: l.Role.paint(), Width: 1.4, Dashes: []vg.Length{6, 3}}
	}
	return draw.LineStyle{Color: l.Role.paint(), Width: 2.2}
}

// sample draws the line's entry in the legend.
func (l Line) sample(c *draw.Canvas, at vg.Point) {
	if len(l.Band) > 0 {
		c.FillPolygon(shade, []vg.Point{{X: at.X, Y: at.Y - 5}, {X: at.X + sampleWidth, Y: at.Y - 5}, {X: at.X + sampleWidth, Y: at.Y + 5}, {X: at.X, Y: at.Y + 5}})
	}
	if !l.Points {
		c.StrokeLine2(l.look(), at.X, at.Y, at.X+sampleWidth, at.Y)
	}
	middle := vg.Point{X: at.X + sampleWidth/2, Y: at.Y}
	switch {
	case l.Style != nil:
		marker(c, *l.Style, middle, 4)
	case l.Points:
		c.StrokeLine2(draw.LineStyle{Color: ink, Width: 1.4}, middle.X, middle.Y-6, middle.X, middle.Y+6)
		shape(c, nil, ink, middle, 3)
	}
}

func (l *Line) drawBand(c *draw.Canvas, at func(x, y float64) vg.Point) {
	if len(l.Band) == 0 {
		return
	}
	var outline []vg.Point
	for _, b := range l.Band {
		outline = append(outline, at(b.X, b.High))
	}
	for i := len(l.Band) - 1; i >= 0; i-- {
		outline = append(outline, at(l.Band[i].X, l.Band[i].Low))
	}
	c.FillPolygon(shade, c.ClipPolygonXY(outline))
}

func (l *Line) drawOn(c *draw.Canvas, at func(x, y float64) vg.Point) {
	for _, part := range l.Parts {
		var line []vg.Point
		for _, q := range part {
			line = append(line, at(q.X, q.Y))
			if q.Low.OK && q.High.OK {
				low, high := at(q.X, q.Low.V), at(q.X, q.High.V)
				c.StrokeLine2(draw.LineStyle{Color: ink, Width: 1.4}, low.X, low.Y, high.X, high.Y)
			}
		}
		if !l.Points {
			c.StrokeLines(l.look(), c.ClipLinesXY(line)...)
		}
		for _, v := range line {
			switch {
			case l.Points && l.Style != nil:
				marker(c, *l.Style, v, 4.5)
			case l.Points:
				shape(c, nil, ink, v, 3.5)
			}
		}
	}
	for _, q := range l.Ends {
		v := at(q.X, q.Y)
		c.StrokeLine2(draw.LineStyle{Color: ink, Width: 1.8}, v.X, v.Y-6, v.X, v.Y+6)
	}
	if l.Style != nil && !l.Points && len(l.Parts) > 0 {
		if last := l.Parts[len(l.Parts)-1]; len(last) > 0 {
			q := last[len(last)-1]
			marker(c, *l.Style, at(q.X, q.Y), 4.5)
		}
	}
}
