package figure

import (
	"image/color"
	"strings"
	"unicode"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// sizes of letters, points.
const (
	normal vg.Length = 13
	small  vg.Length = 12
)

// letters returns a text style. Liberation Sans has the widths of Arial, which the
// pages ask for, so that text takes the room that was measured for it.
func letters(c color.Color, size vg.Length) text.Style {
	f := font.Font{Typeface: "Liberation", Variant: "Sans"}
	return text.Style{Color: c, Font: font.From(f, size), YAlign: draw.YCenter, Handler: text.Plain{Fonts: font.DefaultCache}}
}

// clean makes one line of a text: no control letters, and none that turn the
// direction of what follows.
func clean(s string) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r), unicode.IsControl(r):
			return ' '
		case unicode.Is(unicode.Bidi_Control, r):
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "\ufffd"))
	return strings.Join(strings.Fields(s), " ")
}

// fit cuts a text to a width.
func fit(st text.Style, s string, width vg.Length) string {
	s = clean(s)
	if st.Width(s) <= width {
		return s
	}
	r := []rune(s)
	low, high := 0, len(r)
	for low < high { // the most letters that fit
		mid := (low + high + 1) / 2
		if st.Width(strings.TrimSpace(string(r[:mid]))+"…") <= width {
			low = mid
		} else {
			high = mid - 1
		}
	}
	return strings.TrimSpace(string(r[:low])) + "…"
}
