package report

import (
	"math"
	"strconv"
)

// appendNumber writes the shortest decimal that reads back as v, as a plain
// number between 1e-6 and 1e21 and with an exponent beyond, which is how
// ECMAScript and JSON writers do it. The text formats share it, so that their
// digits agree.
func appendNumber(dst []byte, v float64) []byte {
	format := byte('f')
	if a := math.Abs(v); a != 0 && (a < 1e-6 || a >= 1e21) {
		format = 'e'
	}
	return strconv.AppendFloat(dst, v, format, -1, 64)
}
