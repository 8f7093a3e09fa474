package units

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"sheetwash/analysis/quantity"
)

// ErrNumber says that a cell is no number; it is wrapped with what to do.
var ErrNumber = errors.New("not a number")

// Number reads a number with digits, an optional sign, one decimal mark and an
// optional power of ten. It returns ErrNumber for everything else: the words
// NaN and Inf, thousands separators, hexadecimal digits, numbers beyond the
// range of a float64, and the decimal mark that the file does not use.
func Number(cell string, decimalComma bool) (float64, error) {
	text := trim(cell)
	if text == "" {
		return 0, fmt.Errorf("%w: empty cell", ErrNumber)
	}
	mark, other := byte('.'), byte(',')
	if decimalComma {
		mark, other = other, mark
	}
	if strings.HasPrefix(text, "\u2212") { // the minus sign of typographers
		text = "-" + text[len("\u2212"):]
	}
	digits, marks := 0, 0
	for i := 0; i < len(text); i++ {
		switch c := text[i]; {
		case c >= '0' && c <= '9':
			digits++
		case c == mark && marks == 0:
			marks++
		case c == '+' || c == '-':
			if i > 0 && text[i-1] != 'e' && text[i-1] != 'E' {
				return 0, fmt.Errorf("%w: %q", ErrNumber, cell)
			}
		case (c == 'e' || c == 'E') && digits > 0:
		case c == other || c == mark:
			return 0, fmt.Errorf("%w: %q: the decimal mark here is %q, and digits are not grouped", ErrNumber, cell, string(mark))
		default:
			return 0, fmt.Errorf("%w: %q", ErrNumber, cell)
		}
	}
	if decimalComma {
		text = strings.Replace(text, ",", ".", 1)
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, fmt.Errorf("%w: %q", ErrNumber, cell)
	}
	return v, nil
}

// Decoder reads the number cells of one column and converts them. It is made
// once per column.
type Decoder struct {
	comma           bool
	unit, canonical quantity.Unit
	conversion      quantity.Conversion
	fromPercent     quantity.Conversion
	takesPercent    bool
	fromAngle       quantity.Conversion
	takesAngle      bool
}

// NewDecoder returns the decoder of a column whose numbers are in unit and are
// wanted in canonical. It returns quantity.ErrDimension where they do not fit.
func NewDecoder(unit, canonical quantity.Unit, decimalComma bool) (Decoder, error) {
	c, err := unit.To(canonical)
	if err != nil {
		return Decoder{}, err
	}
	d := Decoder{comma: decimalComma, unit: unit, canonical: canonical, conversion: c}
	d.fromPercent, err = percent.To(canonical)
	d.takesPercent = err == nil
	d.fromAngle, err = degree.To(canonical)
	d.takesAngle = err == nil
	return d, nil
}

var (
	percent = quantity.MustParse("%")
	degree  = quantity.MustParse("deg")
)

// Number returns the cell's number in the canonical unit. A percent sign behind
// the number overrides the column's unit where that is a plain number or a
// percentage: "0.70%" is 0.7 % whatever the header says. It returns ErrNumber,
// or quantity.ErrAngle for a slope angle that is none.
func (d Decoder) Number(cell string) (float64, error) {
	v, c, err := d.number(cell)
	if err != nil {
		return 0, err
	}
	out := c.Apply(v)
	switch {
	case math.IsNaN(out):
		return 0, fmt.Errorf("%w: %q", quantity.ErrAngle, cell)
	case math.IsInf(out, 0):
		return 0, fmt.Errorf("%w: %q is out of range", ErrNumber, cell)
	}
	return out, nil
}

// number splits the cell into its number and the conversion that goes with it.
func (d Decoder) number(cell string) (float64, quantity.Conversion, error) {
	text, c := trim(cell), d.conversion
	if rest, ok := strings.CutSuffix(text, "%"); ok {
		if !d.takesPercent {
			return 0, c, fmt.Errorf("%w: %q: a percent sign in a column of %s", ErrNumber, cell, d.canonical.Dimension().Describe())
		}
		text, c = rest, d.fromPercent
	} else if rest, ok := strings.CutSuffix(text, "°"); ok && d.takesAngle {
		text, c = rest, d.fromAngle
	}
	v, err := Number(text, d.comma)
	if err != nil {
		return 0, c, fmt.Errorf("%w: %q", ErrNumber, cell)
	}
	return v, c, nil
}

// Class reads a cell that holds a number or a class such as "1-3 %", "1–3%" or
// "1 to 3". A class is its midpoint, with the standard uncertainty of a
// rectangular distribution over its width:
//
//	u = (upper - lower) / sqrt(12)
//
// (JCGM 100:2008, 4.3.7). A single number has u = 0. The unit of the upper
// bound holds for both. It returns ErrNumber as Number does, and for a class
// whose bounds are not in ascending order.
func (d Decoder) Class(cell string) (mid, u float64, err error) {
	lower, upper, ok := cutClass(trim(cell))
	if !ok {
		mid, err = d.Number(cell)
		return mid, 0, err
	}
	hi, c, err := d.number(upper)
	if err != nil {
		return 0, 0, fmt.Errorf("%w: %q", ErrNumber, cell)
	}
	lo, err := Number(strings.TrimRight(lower, " %°"), d.comma)
	if err != nil || !(lo < hi) {
		return 0, 0, fmt.Errorf("%w: %q: write a class as its lower and its upper bound, such as 1-3 %%", ErrNumber, cell)
	}
	a, b := c.Apply(lo), c.Apply(hi)
	if math.IsNaN(a) || math.IsNaN(b) || math.IsInf(b-a, 0) {
		return 0, 0, fmt.Errorf("%w: %q is out of range", ErrNumber, cell)
	}
	return a + (b-a)/2, (b - a) / math.Sqrt(12), nil
}

// cutClass cuts "1-3", "1–3", "1 - 3" and "1 to 3" at the mark between the bounds.
func cutClass(text string) (lower, upper string, ok bool) {
	if lower, upper, ok = strings.Cut(text, "–"); ok {
		return trim(lower), trim(upper), true
	}
	if lower, upper, ok = strings.Cut(text, " to "); ok {
		return trim(lower), trim(upper), true
	}
	for i := 1; i < len(text); i++ {
		if text[i] == '-' && text[i-1] != 'e' && text[i-1] != 'E' {
			return trim(text[:i]), trim(text[i+1:]), true
		}
	}
	return "", "", false
}

// trim takes off blanks, the no-break space included.
func trim(s string) string { return strings.Trim(s, " \t\r\n\u00a0\u202f\ufeff") }
