package figure

import (
	"encoding/xml"
	"image"
	"image/color"
	"math"
	"strconv"
	"strings"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// svg is a vg.Canvas that writes the inside of an SVG element. Paints become
// classes, so that the page decides how they look by day, by night and on paper;
// there is no style attribute, which a strict content policy forbids.
type svg struct {
	out    strings.Builder
	height float64
	state  state
	stack  []state
}

type state struct {
	a, b, c, d, e, f float64 // user space to canvas: x' = a x + c y + e, y' = b x + d y + f
	paint            string
	width            vg.Length
	dash             []vg.Length
}

func newSVG(height vg.Length) *svg {
	s := &svg{height: float64(height), state: state{a: 1, d: 1, paint: ink.name}}
	vg.Initialize(s)
	return s
}

func (s *svg) SetLineWidth(w vg.Length)                     { s.state.width = w }
func (s *svg) SetLineDash(pattern []vg.Length, _ vg.Length) { s.state.dash = pattern }
func (s *svg) Push()                                        { s.stack = append(s.stack, s.state) }

func (s *svg) Pop() {
	if n := len(s.stack); n > 0 {
		s.state, s.stack = s.stack[n-1], s.stack[:n-1]
	}
}

// SetColor takes the paints of this package; every other colour is ink.
func (s *svg) SetColor(c color.Color) {
	s.state.paint = ink.name
	if p, ok := c.(paint); ok {
		s.state.paint = p.name
	}
}

func (s *svg) Rotate(rad float64) {
	sin, cos := math.Sincos(rad)
	t := &s.state
	t.a, t.b, t.c, t.d = t.a*cos+t.c*sin, t.b*cos+t.d*sin, t.c*cos-t.a*sin, t.d*cos-t.b*sin
}

func (s *svg) Translate(p vg.Point) { s.state.e, s.state.f = s.at(p) }

func (s *svg) Scale(x, y float64) {
	t := &s.state
	t.a, t.b, t.c, t.d = t.a*x, t.b*x, t.c*y, t.d*y
}

// at returns a point in canvas space, y upward.
func (s *svg) at(p vg.Point) (x, y float64) {
	t := &s.state
	return t.a*float64(p.X) + t.c*float64(p.Y) + t.e, t.b*float64(p.X) + t.d*float64(p.Y) + t.f
}

// point writes a point, y downward as SVG has it.
func (s *svg) point(p vg.Point) string {
	x, y := s.at(p)
	return short(x) + " " + short(s.height-y)
}

// short writes a coordinate to a tenth of a point.
func short(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "0"
	}
	text := strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64)
	if text == "-0" {
		return "0"
	}
	return text
}

func (s *svg) Stroke(p vg.Path) {
	if s.state.width <= 0 {
		return
	}
	s.out.WriteString(`<path class="s-` + s.state.paint + `"`)
	if s.state.width != 1 {
		s.out.WriteString(` stroke-width="` + short(float64(s.state.width)) + `"`)
	}
	if len(s.state.dash) > 0 {
		var parts []string
		for _, d := range s.state.dash {
			parts = append(parts, short(float64(d)))
		}
		s.out.WriteString(` stroke-dasharray="` + strings.Join(parts, " ") + `"`)
	}
	s.out.WriteString(` d="` + s.path(p) + `"/>`)
}

func (s *svg) Fill(p vg.Path) {
	s.out.WriteString(`<path class="f-` + s.state.paint + `" d="` + s.path(p) + `"/>`)
}

func (s *svg) path(p vg.Path) string {
	var b strings.Builder
	for _, c := range p {
		switch c.Type {
		case vg.MoveComp:
			b.WriteString("M" + s.point(c.Pos))
		case vg.LineComp:
			b.WriteString("L" + s.point(c.Pos))
		case vg.CloseComp:
			b.WriteString("Z")
		case vg.ArcComp:
			s.arc(&b, c)
		case vg.CurveComp:
			b.WriteString([]string{"L", "Q", "C"}[min(2, len(c.Control))])
			for _, q := range c.Control {
				b.WriteString(s.point(q) + " ")
			}
			b.WriteString(s.point(c.Pos))
		}
	}
	return b.String()
}

// arc writes an arc in parts of at most half a turn.
func (s *svg) arc(b *strings.Builder, c vg.PathComp) {
	parts := max(1, int(math.Ceil(math.Abs(c.Angle)/math.Pi-1e-9)))
	sweep := " 0 0 0 "
	if c.Angle < 0 {
		sweep = " 0 0 1 "
	}
	r := short(float64(c.Radius))
	for i := 1; i <= parts; i++ {
		sin, cos := math.Sincos(c.Start + c.Angle*float64(i)/float64(parts))
		end := vg.Point{X: c.Pos.X + c.Radius*vg.Length(cos), Y: c.Pos.Y + c.Radius*vg.Length(sin)}
		b.WriteString("A" + r + " " + r + sweep + s.point(end))
	}
}

func (s *svg) FillString(f font.Face, p vg.Point, text string) {
	if f.Font.Size == 0 || text == "" {
		return
	}
	s.out.WriteString(`<text class="f-` + s.state.paint + `" font-size="` + short(float64(f.Font.Size)) + `"`)
	x, y := s.at(p)
	if t := &s.state; math.Abs(t.b) > 1e-9 {
		s.out.WriteString(` transform="translate(` + short(x) + ` ` + short(s.height-y) + `) rotate(` + short(-180/math.Pi*math.Atan2(t.b, t.a)) + `)"`)
	} else {
		s.out.WriteString(` x="` + short(x) + `" y="` + short(s.height-y) + `"`)
	}
	s.out.WriteString(`>` + escape(text) + `</text>`)
}

// escape makes text safe within an element; what XML cannot hold becomes U+FFFD.
func escape(text string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(text)) // a Builder takes everything
	return b.String()
}

// DrawImage draws nothing: no chart holds an image.
func (s *svg) DrawImage(vg.Rectangle, image.Image) {}
