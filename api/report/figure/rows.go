package figure

import (
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sheetwash/analysis/quantity"
)

// Rows is a chart with one line per plot, treatment or event: its name, and below
// it bars or a value with its interval.
type Rows struct {
	Rows      []Row
	XLabel    string
	Keys      []Key
	Reference quantity.Optional // a vertical line, such as no difference
	FromZero  bool              // the axis begins at 0
	Log       bool              // equal ratios are equally far apart; only where every number is above 0
}

// Row is one line of a Rows chart.
type Row struct {
	Label string
	Style Style  // of its treatment
	Plain bool   // no marker of a treatment before the label
	Bars  []Bar  // end to end
	Dot   *Dot   // a value with its interval
	Text  string // behind bars and dot; alone: why there is neither
	Total bool   // a result of the other rows: set off
}

// Bar is a part of a stacked bar.
type Bar struct {
	Value float64
	Role  Role
}

// Dot is a value with its interval, and a wider one that tells where a new one
// would lie.
type Dot struct {
	Value     float64
	Low, High quantity.Optional
	LowNew    quantity.Optional
	HighNew   quantity.Optional
	AtLeast   bool // the value is a lower bound
	AtMost    bool // the value is an upper bound
}

const (
	rowsWidth vg.Length = 340
	rowHeight vg.Length = 38
	barHeight vg.Length = 14
	axisRoom  vg.Length = 38
)

// Figure draws the chart.
func (r Rows) Figure() *Figure {
	var samples []sample
	for _, k := range r.Keys {
		samples = append(samples, sample{k.Text, func(c *draw.Canvas, at vg.Point) {
			box(c, k.Role, vg.Point{X: at.X, Y: at.Y - 5}, vg.Point{X: at.X + sampleWidth - 4, Y: at.Y + 5})
		}})
	}
	top, paintLegend := legend(samples, rowsWidth)
	height := top + rowHeight*vg.Length(max(1, len(r.Rows))) + axisRoom
	return &Figure{width: rowsWidth, height: height, draw: func(c draw.Canvas) {
		paintLegend(&c)
		p := newPlot()
		p.HideY()
		p.X.Min, p.X.Max = r.span()
		p.Y.Min, p.Y.Max = 0, float64(max(1, len(r.Rows)))
		p.X.Label.Text = clean(r.XLabel)
		switch {
		case !r.drawn():
			p.X.Tick.Marker = plot.ConstantTicks(nil)
		case r.logarithmic():
			p.X.Scale, p.X.Tick.Marker = plot.LogScale{}, plot.TickerFunc(ratioTicks)
		}
		p.Add(gridlines{x: true}, r)
		p.Draw(draw.Crop(c, 4, -4, 0, -top))
	}}
}

// drawn reports whether any row has more than words.
func (r Rows) drawn() bool {
	return slices.ContainsFunc(r.Rows, func(q Row) bool { return len(q.Bars) > 0 || q.Dot != nil })
}

// numbers calls see with every number that the chart shows.
func (r Rows) numbers(see func(float64)) {
	if r.FromZero {
		see(0)
	}
	if r.Reference.OK {
		see(r.Reference.V)
	}
	for i := range r.Rows {
		row := &r.Rows[i]
		if len(row.Bars) > 0 || row.Dot != nil {
			see(row.end())
		}
		if d := row.Dot; d != nil {
			see(d.Value)
			for _, v := range []quantity.Optional{d.Low, d.High, d.LowNew, d.HighNew} {
				if v.OK {
					see(v.V)
				}
			}
		}
	}
}

// logarithmic reports whether the axis can be so.
func (r Rows) logarithmic() bool {
	above := r.Log && !slices.ContainsFunc(r.Rows, func(q Row) bool { return len(q.Bars) > 0 })
	r.numbers(func(v float64) { above = above && v > 0 && !math.IsInf(v, 0) })
	return above
}

// span is the axis, long enough for the texts behind the bars.
func (r Rows) span() (low, high float64) {
	to, back := func(v float64) float64 { return v }, func(v float64) float64 { return v }
	if r.logarithmic() {
		to, back = math.Log, math.Exp
	}
	low, high = math.Inf(1), math.Inf(-1)
	r.numbers(func(v float64) {
		if v = to(v); !math.IsNaN(v) && !math.IsInf(v, 0) {
			low, high = min(low, v), max(high, v)
		}
	})
	if !(low <= high) {
		return 0, 1
	}
	if high-low < 1e-12*max(1, math.Abs(high)) {
		high = low + max(1e-3, math.Abs(low)*0.1)
	}
	if !r.FromZero {
		low -= 0.04 * (high - low)
	}
	return back(low), back(r.roomForTexts(low, high, to))
}

// roomForTexts lengthens the axis until the text behind the end of each row fits.
func (r Rows) roomForTexts(low, high float64, to func(float64) float64) float64 {
	st := letters(ink, small)
	most := high
	for i := range r.Rows {
		row := &r.Rows[i]
		if row.Text == "" || len(row.Bars) == 0 && row.Dot == nil {
			continue
		}
		room := rowsWidth - 16 - min(1.1*st.Width(clean(row.Text))+behind(row), rowsWidth*0.6)
		most = max(most, low+(to(row.end())-low)*float64((rowsWidth-16)/room))
	}
	return most
}

// behind is the room between the end of a row and its text.
func behind(r *Row) vg.Length {
	if r.Dot != nil && r.Dot.AtLeast {
		return 26
	}
	return 10
}

// end is where the bars or the interval of a row end.
func (r *Row) end() float64 {
	v := 0.0
	for _, b := range r.Bars {
		v += max(0, b.Value)
	}
	if d := r.Dot; d != nil {
		v = d.Value
		for _, o := range []quantity.Optional{d.High, d.HighNew} {
			if o.OK {
				v = max(v, o.V)
			}
		}
	}
	return v
}

// Plot draws the rows; it makes Rows a plot.Plotter.
func (r Rows) Plot(c draw.Canvas, p *plot.Plot) {
	tx, _ := p.Transforms(&c)
	if r.Reference.OK {
		x := tx(r.Reference.V)
		c.StrokeLine2(draw.LineStyle{Color: ink, Width: 1, Dashes: []vg.Length{4, 3}}, x, c.Min.Y, x, c.Max.Y)
	}
	for i := range r.Rows {
		r.Rows[i].draw(&c, tx, c.Max.Y-rowHeight*vg.Length(i), r.FromZero)
	}
}

// draw draws one row below top.
func (r *Row) draw(c *draw.Canvas, tx func(float64) vg.Length, top vg.Length, fromZero bool) {
	label := letters(ink, normal)
	x := c.Min.X
	if r.Total {
		c.StrokeLine2(draw.LineStyle{Color: mute, Width: 0.8}, c.Min.X, top-0.5, c.Max.X, top-0.5)
	}
	if !r.Plain {
		marker(c, r.Style, vg.Point{X: x + 5, Y: top - 9}, 4.2)
		x += 14
	}
	c.FillText(label, vg.Point{X: x, Y: top - 9}, fit(label, r.Label, c.Max.X-x))
	low, high := top-19-barHeight, top-19
	middle := (low + high) / 2
	text := letters(ink, small)
	if len(r.Bars) == 0 && r.Dot == nil {
		text.Color = mute
		c.FillText(text, vg.Point{X: c.Min.X + 2, Y: middle}, fit(text, r.Text, c.Size().X-2))
		return
	}
	from := 0.0
	for _, b := range r.Bars {
		if b.Value > 0 {
			box(c, b.Role, vg.Point{X: tx(from), Y: low}, vg.Point{X: tx(from + b.Value), Y: high})
			from += b.Value
		}
	}
	if r.Dot != nil {
		r.Dot.draw(c, tx, middle, r, fromZero)
	}
	x = tx(r.end()) + behind(r) - 2
	c.FillText(text, vg.Point{X: x, Y: middle}, fit(text, r.Text, c.Max.X-x+10))
}

// draw draws the value over its intervals.
func (d *Dot) draw(c *draw.Canvas, tx func(float64) vg.Length, y vg.Length, r *Row, fromZero bool) {
	line := func(from, to, width vg.Length, dash []vg.Length) {
		c.StrokeLine2(draw.LineStyle{Color: ink, Width: width, Dashes: dash}, from, y, to, y)
	}
	at := tx(d.Value)
	if fromZero {
		c.StrokeLine2(draw.LineStyle{Color: grid, Width: 2.5}, c.Min.X, y, at, y)
	}
	if d.LowNew.OK && d.HighNew.OK {
		line(tx(d.LowNew.V), tx(d.HighNew.V), 1, []vg.Length{3, 2})
	}
	low, high := at, at
	if d.Low.OK {
		low = tx(d.Low.V)
	}
	if d.High.OK {
		high = tx(d.High.V)
	}
	if low < high {
		line(low, high, 1.8, nil)
	}
	if d.AtLeast {
		line(at, at+14, 1.8, nil)
		arrow(c, ink, vg.Point{X: at + 19, Y: y})
	}
	if d.AtMost {
		line(at-14, at, 1.8, nil)
	}
	switch {
	case r.Total:
		shape(c, polygons[3], ink, vg.Point{X: at, Y: y}, 6)
	case r.Plain:
		shape(c, nil, ink, vg.Point{X: at, Y: y}, 4)
	default:
		marker(c, r.Style, vg.Point{X: at, Y: y}, 5)
	}
}
