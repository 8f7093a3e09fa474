package figure

import (
	"bytes"
	"fmt"
	"image/color"
	"io"
	"regexp"
	"slices"
	"strings"

	"golang.org/x/text/encoding/charmap"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgpdf"
	"gonum.org/v1/plot/vg/vgsvg"
)

// Figure is a chart that can be drawn in every form.
type Figure struct {
	width, height vg.Length
	draw          func(draw.Canvas)
}

// Swatch is the marker of a treatment alone, for lists.
func Swatch(s Style) *Figure {
	return &Figure{width: 14, height: 14, draw: func(c draw.Canvas) { marker(&c, s, vg.Point{X: 7, Y: 7}, 5.5) }}
}

// Decoration writes the figure as an SVG element that readers of screens pass over.
func (f *Figure) Decoration(w io.Writer) error {
	s := newSVG(f.height)
	f.draw(draw.NewCanvas(s, f.width, f.height))
	_, err := fmt.Fprintf(w, `<svg class="swatch" aria-hidden="true" width="%s" height="%s" viewBox="0 0 %[1]s %[2]s">%[3]s</svg>`, short(float64(f.width)), short(float64(f.height)), s.out.String())
	return err
}

// Format is the form of a file.
type Format string

// The forms of files.
const (
	SVG Format = "svg"
	PNG Format = "png"
	PDF Format = "pdf"
)

// ParseFormats reads a list such as svg,png; an empty one is none.
func ParseFormats(list string) ([]Format, error) {
	var out []Format
	for _, word := range strings.Split(list, ",") {
		f := Format(strings.ToLower(strings.TrimSpace(word)))
		switch {
		case f == "" && strings.TrimSpace(list) == "":
			return nil, nil
		case f != SVG && f != PNG && f != PDF:
			return nil, fmt.Errorf("figures are svg, png or pdf, not %q", word)
		case !slices.Contains(out, f):
			out = append(out, f)
		}
	}
	return out, nil
}

// Inline writes the chart as an SVG element for a page. labelledBy is the
// identifiers of the elements that name and tell it.
func (f *Figure) Inline(w io.Writer, labelledBy string) error {
	s := newSVG(f.height)
	f.draw(draw.NewCanvas(s, f.width, f.height))
	_, err := fmt.Fprintf(w, `<svg class="chart" role="img" aria-labelledby="%s" width="%s" height="%s" viewBox="0 0 %[2]s %[3]s">%[4]s</svg>`,
		escape(labelledBy), short(float64(f.width)), short(float64(f.height)), s.out.String())
	return err
}

// margin about the chart in files, points.
const margin vg.Length = 8

// dpi of PNG files: two device pixels per pixel of a screen.
const dpi = 192

// Write writes the chart as a file, on white.
func (f *Figure) Write(w io.Writer, format Format) error {
	var c vg.CanvasWriterTo
	width, height, letters := f.width+2*margin, f.height+2*margin, basicPlane
	switch format {
	case SVG:
		c = vgsvg.New(width, height)
	case PNG:
		c = vgimg.PngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(width, height), vgimg.UseDPI(dpi), vgimg.UseBackgroundColor(color.White))}
	case PDF:
		c, letters = vgpdf.New(width, height), windows1252
	default:
		return fmt.Errorf("there is no form %q of a figure", format)
	}
	d := draw.New(plain{c, letters})
	d.FillPolygon(color.White, []vg.Point{d.Min, {X: d.Max.X, Y: d.Min.Y}, d.Max, {X: d.Min.X, Y: d.Max.Y}})
	f.draw(draw.Crop(d, margin, -margin, margin, -margin))
	if format != PDF {
		_, err := c.WriteTo(w)
		return err
	}
	var b bytes.Buffer
	if _, err := c.WriteTo(&b); err != nil {
		return err
	}
	_, err := w.Write(dateOfPDF.ReplaceAll(b.Bytes(), []byte("${1}D:20000101000000")))
	return err
}

// dateOfPDF is the time of writing in a PDF. Files hold no time of day: equal data
// give equal bytes. What stands in its place is as long, so that the offsets in the
// file hold.
var dateOfPDF = regexp.MustCompile(`(/(?:Creation|Mod)Date \()D:[0-9]{14}`)

// plain is a canvas that has the letters of some set alone.
type plain struct {
	vg.CanvasWriterTo
	letters func(string) string
}

func (p plain) FillString(f font.Face, at vg.Point, text string) {
	p.CanvasWriterTo.FillString(f, at, p.letters(text))
}

// basicPlane puts question marks for what the fonts of pictures do not know.
func basicPlane(text string) string {
	return strings.Map(func(r rune) rune {
		if r > 0xffff || r == 0xfffd {
			return '?'
		}
		return r
	}, text)
}

// windows1252 is the encoding in which the writer of PDF takes texts; other letters
// become question marks.
func windows1252(text string) string {
	out := make([]byte, 0, len(text))
	for _, r := range text {
		b, ok := charmap.Windows1252.EncodeRune(r)
		if !ok {
			b = '?'
		}
		out = append(out, b)
	}
	return string(out)
}

func (p plain) SetColor(c color.Color) {
	if q, ok := c.(paint); ok {
		c = q.NRGBA
	}
	p.CanvasWriterTo.SetColor(c)
}
