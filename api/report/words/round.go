package words

import (
	"math"
	"strconv"
	"strings"

	"sheetwash/analysis/quantity"
)

// mostDecimals bounds the digits behind the point.
const mostDecimals = 9

// Figure rounds to n significant digits without an exponent and without zeros at
// the end.
func Figure(v float64, n int) string {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(v, 'e', n-1, 64), 64)
	if err != nil {
		return strconv.FormatFloat(v, 'g', n, 64)
	}
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}

// Significant rounds to n significant digits and keeps zeros at their end, so
// that 18.0 looks as precise as 18.2. Zero is 0.
func Significant(v float64, n int) string {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(v, 'e', n-1, 64), 64)
	if err != nil || rounded == 0 {
		return "0"
	}
	decimals := n - 1 - int(math.Floor(math.Log10(math.Abs(rounded))))
	return strconv.FormatFloat(rounded, 'f', max(0, decimals), 64)
}

// Decimals returns how many digits behind the point a value bears whose standard
// uncertainty is u: those of two significant digits of u (GUM2008, 7.2.6). Below
// zero it is the power of ten to which the value is rounded.
func Decimals(u float64) int {
	text := strconv.FormatFloat(math.Abs(u), 'e', 1, 64)
	_, exponent, _ := strings.Cut(text, "e")
	e, err := strconv.Atoi(exponent)
	if err != nil {
		return 0
	}
	return min(mostDecimals, 1-e)
}

// To writes v with a number of decimals; below zero it rounds to tens, hundreds
// and so on. There is no negative zero.
func To(v float64, decimals int) string {
	if decimals < 0 {
		scale := math.Pow10(-decimals)
		v, decimals = math.Round(v/scale)*scale, 0
	}
	text := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Trim(text, "-0.") == "" {
		return strings.TrimPrefix(text, "-")
	}
	return text
}

// Rounded writes v as its standard uncertainty bears it; three significant digits
// where u is not known. A zero without uncertainty is 0.
func Rounded(v float64, u quantity.Optional) string {
	if !u.OK || !(u.V > 0) || math.IsInf(u.V, 0) {
		return Significant(v, 3)
	}
	return To(v, Decimals(u.V))
}

// Grouped writes a large number with two significant digits and commas between
// thousands.
func Grouped(v float64) string {
	digits := Figure(v, 2)
	whole, rest, _ := strings.Cut(digits, ".")
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	if rest != "" {
		whole += "." + rest
	}
	return whole
}
