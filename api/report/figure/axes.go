package figure

import (
	"math"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// newPlot returns a plot without a background, in our letters.
func newPlot() *plot.Plot {
	p := plot.New()
	p.BackgroundColor = nil
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		label := letters(ink, normal)
		label.XAlign, label.YAlign = draw.XCenter, draw.YBottom
		a.Label.TextStyle = label
		a.Label.Padding = 3
		a.Tick.Label = letters(ink, small)
		a.Tick.LineStyle = draw.LineStyle{Color: mute, Width: 0.8}
		a.Tick.Length = 4
		a.LineStyle = draw.LineStyle{Color: mute, Width: 1}
		a.Padding = 0
		a.Tick.Marker = plot.TickerFunc(ticks)
	}
	p.X.Tick.Label.XAlign, p.X.Tick.Label.YAlign = draw.XCenter, draw.YTop
	p.Y.Tick.Label.XAlign, p.Y.Tick.Label.YAlign = draw.XRight, draw.YCenter
	return p
}

// ticks are at round numbers, four to eight of them.
func ticks(low, high float64) []plot.Tick {
	span := high - low
	if !(span > 0) || math.IsInf(span, 0) {
		return []plot.Tick{{Value: low, Label: strconv.FormatFloat(low, 'g', 3, 64)}}
	}
	step := math.Pow(10, math.Floor(math.Log10(span/5)))
	for _, m := range []float64{2, 2.5, 2} { // 1, 2, 5, 10
		if span/step <= 7 {
			break
		}
		step *= m
	}
	decimals := max(0, -int(math.Floor(math.Log10(step)+1e-9)))
	var out []plot.Tick
	first := math.Ceil(low/step - 1e-9)
	for n := range 10 {
		i := first + float64(n)
		if i*step > high+1e-9*span {
			break
		}
		label := strconv.FormatFloat(i*step, 'f', decimals, 64)
		if i == 0 {
			label = "0"
		}
		out = append(out, plot.Tick{Value: i * step, Label: label})
	}
	return out
}

// ratioTicks are for a logarithmic axis: at 1, 2 and 5 times powers of ten, or at the
// powers alone where that would be many.
func ratioTicks(low, high float64) []plot.Tick {
	var out []plot.Tick
	if !(low > 0) || math.IsInf(high, 0) {
		return nil
	}
	decades := math.Log10(high) - math.Log10(low)
	wide := decades > 2.3
	for e := math.Floor(math.Log10(low)); e <= math.Ceil(math.Log10(high)); e += math.Ceil(max(1, decades) / 8) {
		for _, m := range []float64{1, 2, 5} {
			v := m * math.Pow(10, e)
			if v < low || v > high || wide && m != 1 {
				continue
			}
			out = append(out, plot.Tick{Value: v, Label: strconv.FormatFloat(v, 'g', 3, 64)})
		}
	}
	return out
}

// gridlines are drawn at the ticks of an axis, behind everything else.
type gridlines struct{ x, y bool }

func (g gridlines) Plot(c draw.Canvas, p *plot.Plot) {
	line := draw.LineStyle{Color: grid, Width: 0.8}
	tx, ty := p.Transforms(&c)
	if g.x {
		for _, t := range p.X.Tick.Marker.Ticks(p.X.Min, p.X.Max) {
			c.StrokeLine2(line, tx(t.Value), c.Min.Y, tx(t.Value), c.Max.Y)
		}
	}
	if g.y {
		for _, t := range p.Y.Tick.Marker.Ticks(p.Y.Min, p.Y.Max) {
			c.StrokeLine2(line, c.Min.X, ty(t.Value), c.Max.X, ty(t.Value))
		}
	}
}

// Key explains an area of a Rows chart.
type Key struct {
	Role Role
	Text string
}

// sample is one entry of a legend.
type sample struct {
	text string
	draw func(c *draw.Canvas, at vg.Point) // within 22 by 10 points from at, its middle left
}

const (
	sampleWidth  = 22
	legendHeight = 17
)

// legend lays samples out from left to right, in as many lines as they need, and
// returns how high they are.
func legend(samples []sample, width vg.Length) (height vg.Length, paintOn func(*draw.Canvas)) {
	st := letters(ink, small)
	type place struct {
		x, y vg.Length
		text string
	}
	var places []place
	x, line := vg.Length(0), 0
	for _, s := range samples {
		t := fit(st, s.text, width-sampleWidth-6)
		w := sampleWidth + 5 + st.Width(t) + 12
		if x > 0 && x+w-12 > width {
			x, line = 0, line+1
		}
		places = append(places, place{x, vg.Length(line) * legendHeight, t})
		x += w
	}
	if len(samples) == 0 {
		return 0, func(*draw.Canvas) {}
	}
	return vg.Length(line+1)*legendHeight + 4, func(c *draw.Canvas) {
		for i, p := range places {
			at := vg.Point{X: c.Min.X + p.x, Y: c.Max.Y - p.y - legendHeight/2}
			samples[i].draw(c, at)
			c.FillText(st, vg.Point{X: at.X + sampleWidth + 5, Y: at.Y}, p.text)
		}
	}
}
