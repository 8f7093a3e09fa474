package figure

import (
	"bytes"
	"encoding/xml"
	"errors"
	"image/png"
	"io"
	"math"
	"strings"
	"testing"

	"gonum.org/v1/plot/vg"
	"pgregory.net/rapid"

	"sheetwash/analysis/quantity"
)

// charts are one of each kind with everything that it can show.
func charts() map[string]*Figure {
	some := quantity.Some
	style := Style(3)
	return map[string]*Figure{
		"bars": Rows{FromZero: true, XLabel: "depth, mm", Keys: []Key{{Runoff, "ran off"}, {Drained, "drained"}, {Stored, "stored"}}, Rows: []Row{
			{Label: "meadow fescue ley · PF-1, plot 1", Style: 2, Bars: []Bar{{3, Runoff}, {5, Drained}, {27, Stored}}, Text: "3.0 mm ran off"},
			{Label: "potato ridges, bare · PF-1, plot 2", Style: 4, Text: "being dried"}}}.Figure(),
		"dots": Rows{Log: true, Reference: some(1), XLabel: "ratio", Rows: []Row{
			{Label: "Pell Farm", Plain: true, Text: "2.0", Dot: &Dot{Value: 2, Low: some(0.5), High: some(8)}},
			{Label: "bound", Text: "at least 30", Dot: &Dot{Value: 30, AtLeast: true}}, {Label: "bound", Dot: &Dot{Value: 1, AtMost: true}},
			{Label: "all", Plain: true, Total: true, Text: "3.0", Dot: &Dot{Value: 3, Low: some(2), High: some(4), LowNew: some(1), HighNew: some(9)}}}}.Figure(),
		"course": Course{FromZero: true, XLabel: "time, min", YLabel: "rate, mm/h", XMin: some(0), XMax: some(40), YMax: some(80), Marks: []Mark{{12.4, "observed"}, {11, "threshold"}, {39, "late, at the right end"}},
			Lines: []Line{{Name: "rain", Role: Rain, Thin: true, Parts: [][]Point{{{X: 0, Y: 70}, {X: 30, Y: 70}}}}, {Name: "runoff", Parts: [][]Point{{{X: 12, Y: 20}, {X: 15, Y: 20}}, {{X: 18, Y: 30}, {X: 21, Y: 30}}}, Band: []Range{{12, 18, 22}, {15, 18, 22}}},
				{Name: "ley", Style: &style, Parts: [][]Point{{{X: 0, Y: 10}, {X: 20, Y: 5}}}, Ends: []Point{{X: 20, Y: 5}}}, {Name: "capacity", Points: true, Parts: [][]Point{{{X: 30, Y: 31, Low: some(26), High: some(36)}}}}}}.Figure(),
		"drift":   Course{Ticks: []Tick{{0, "1 Apr 2031"}, {30, "1 May 2031"}}, Lines: []Line{{Name: "trailer-1", Style: &style, Points: true, Parts: [][]Point{{{X: 0, Y: 70}, {X: 30, Y: 71}}}}}}.Figure(),
		"plan":    Plan{XLabel: "across, cm", YLabel: "along, cm", Cans: []Can{{30, 20, 1, "12.1"}, {90, 20, 0.8, "9.7"}, {90, 80, 1.2, "14.5"}}}.Figure(),
		"swatch":  Swatch(48),
		"nothing": Course{}.Figure(), "no rows": Rows{}.Figure(), "no cans": Plan{}.Figure(),
	}
}

// Every chart can be had in every form, and twice in the same bytes.
func TestForms(t *testing.T) {
	for name, f := range charts() {
		for _, format := range []Format{SVG, PNG, PDF} {
			var a, b bytes.Buffer
			if err := f.Write(&a, format); err != nil {
				t.Fatalf("%s as %s: %v", name, format, err)
			}
			if err := f.Write(&b, format); err != nil || !bytes.Equal(a.Bytes(), b.Bytes()) {
				t.Errorf("%s as %s differs the second time (%v)", name, format, err)
			}
			switch {
			case format == PNG:
				if m, err := png.Decode(&a); err != nil || m.Bounds().Dx() != int(math.Round(float64(f.width+2*margin)*dpi/72)) {
					t.Errorf("%s as png: %v", name, err)
				}
			case format == SVG:
				wellFormed(t, name, a.String())
			case !bytes.HasPrefix(a.Bytes(), []byte("%PDF-")) || bytes.Count(a.Bytes(), []byte("Date (D:20000101000000)")) != 2:
				t.Errorf("%s is no PDF, or one with the time of writing", name)
			}
		}
		var b bytes.Buffer
		if err := f.Inline(&b, "a b"); err != nil {
			t.Fatal(err)
		}
		wellFormed(t, name, b.String())
		if s := b.String(); strings.Contains(s, "style=") || !strings.Contains(s, `role="img" aria-labelledby="a b"`) {
			t.Errorf("%s within a page: %s", name, s[:120])
		}
	}
	if err := Swatch(0).Write(io.Discard, "gif"); err == nil {
		t.Error("a form that there is not")
	}
}

func wellFormed(t *testing.T, name, text string) {
	t.Helper()
	for d := xml.NewDecoder(strings.NewReader(text)); ; {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			return
		} else if err != nil {
			t.Errorf("%s is not well-formed: %v", name, err)
			return
		}
	}
}

// Forty-nine treatments look different from each other in colour or marker, and a
// marker goes with one dash.
func TestStyles(t *testing.T) {
	seen := map[[2]any]bool{}
	for i := range 49 {
		look := [2]any{Style(i).paint().name, Style(i).second()}
		if seen[look] {
			t.Errorf("style %d looks like one before it", i)
		}
		seen[look] = true
	}
	if Style(49).paint() != Style(0).paint() || Style(-1).second() != Style(48).second() {
		t.Error("styles do not repeat")
	}
	for i := range treatments[:6] {
		if treatments[i].name != "c"+string(rune('0'+i)) {
			t.Errorf("paint %d is named %s", i, treatments[i].name)
		}
	}
}

// Ticks are at round numbers within the axis, and not many.
func TestTicks(t *testing.T) {
	for _, tt := range []struct {
		low, high float64
		want      string
	}{
		{0, 30, "0 5 10 15 20 25 30"}, {0, 1, "0 0.2 0.4 0.6 0.8 1.0"}, {-0.3, 0.3, "-0.3 -0.2 -0.1 0 0.1 0.2 0.3"}, {0, 0.05, "0 0.01 0.02 0.03 0.04 0.05"}, {4, 4, "4"},
	} {
		var got []string
		for _, k := range ticks(tt.low, tt.high) {
			got = append(got, k.Label)
		}
		if s := strings.Join(got, " "); s != tt.want {
			t.Errorf("ticks(%v, %v) = %s, want %s", tt.low, tt.high, s, tt.want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		low := rapid.Float64Range(-1e6, 1e6).Draw(t, "low")
		high := low + rapid.Float64Range(1e-3, 1e6).Draw(t, "span")
		k := ticks(low, high)
		if len(k) < 2 || len(k) > 9 {
			t.Fatalf("%d ticks from %v to %v", len(k), low, high)
		}
	})
}

// A cut text fits its width and ends with an ellipsis; one that fits is unchanged but
// for what no line can hold.
func TestFit(t *testing.T) {
	st := letters(ink, normal)
	if got := fit(st, "vineyard\talley,\n bare\u202e", 400); got != "vineyard alley, bare" {
		t.Errorf("got %q", got)
	}
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.String().Draw(t, "text")
		if got := fit(st, s, 100); st.Width(got) > 100 && got != "…" {
			t.Fatalf("%q is wider than 100 points", got)
		}
	})
}

// Any text and any number makes a chart; nothing panics.
func TestAnything(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		number := rapid.OneOf(rapid.Float64(), rapid.SampledFrom([]float64{0, -1, math.NaN(), math.Inf(1), math.MaxFloat64, 5e-324}))
		optional := func() quantity.Optional {
			return quantity.Optional{V: number.Draw(t, "bound"), OK: rapid.Bool().Draw(t, "known")}
		}
		label := rapid.String().Draw(t, "label")
		f := Rows{XLabel: label, Log: rapid.Bool().Draw(t, "log"), Reference: optional(), Rows: []Row{
			{Label: label, Text: label, Bars: []Bar{{number.Draw(t, "bar"), Drained}}}, {Label: label, Text: label, Dot: &Dot{Value: number.Draw(t, "dot"), Low: optional(), High: optional()}}}}
		k := Course{XLabel: label, Lines: []Line{{Name: label, Parts: [][]Point{{{X: number.Draw(t, "x"), Y: number.Draw(t, "y"), Low: optional(), High: optional()}}}}}, Marks: []Mark{{number.Draw(t, "mark"), label}}}
		for _, x := range []*Figure{f.Figure(), k.Figure()} {
			if err := x.Inline(io.Discard, "a"); err != nil {
				t.Fatal(err)
			}
		}
	})
}

// A quarter turn and back leaves a point where it was.
func TestTurns(t *testing.T) {
	s := newSVG(100)
	s.Translate(vg.Point{X: 10, Y: 20})
	s.Rotate(math.Pi / 2)
	if x, y := s.at(vg.Point{X: 5}); math.Abs(x-10) > 1e-9 || math.Abs(y-25) > 1e-9 { // 5 to the right becomes 5 upward
		t.Errorf("the point is at %v, %v", x, y)
	}
	s.Push()
	s.Scale(2, 3)
	s.Pop()
	s.Rotate(-math.Pi / 2)
	if x, y := s.at(vg.Point{X: 5, Y: 7}); math.Abs(x-15) > 1e-9 || math.Abs(y-27) > 1e-9 {
		t.Errorf("the point is at %v, %v", x, y)
	}
	s.Pop() // without a Push it does nothing
}

// The writer of PDF takes one byte a letter.
func TestLettersOfFiles(t *testing.T) {
	if got := windows1252("plot · ± 5 °C – מ"); got != "plot \xb7 \xb1 5 \xb0C \x96 ?" {
		t.Errorf("%q", got)
	}
	if got := basicPlane("rain 🌧 é"); got != "rain ? é" {
		t.Errorf("%q", got)
	}
}

func TestParseFormats(t *testing.T) {
	if got, err := ParseFormats(" SVG, png,svg"); err != nil || len(got) != 2 || got[1] != PNG {
		t.Errorf("%v, %v", got, err)
	}
	if got, err := ParseFormats(""); err != nil || got != nil {
		t.Errorf("%v, %v", got, err)
	}
	for _, bad := range []string{"gif", "svg,", ",", "png;pdf"} {
		if _, err := ParseFormats(bad); err == nil {
			t.Errorf("%q is taken", bad)
		}
	}
}
