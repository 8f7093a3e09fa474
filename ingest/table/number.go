package table

import (
	"encoding/binary"
	"errors"
	"math"
	"math/bits"
	"strconv"
	"unsafe"
)

// NumberFault says why a cell is not a number that can be used.
type NumberFault uint8

// What ParseFloat finds.
const (
	NumberOK        NumberFault = iota
	NumberEmpty                 // nothing but blanks
	NumberSyntax                // not a decimal number
	NumberNotFinite             // NaN or an infinity written out
	NumberRange                 // larger than the largest float64
)

// String says what was found, to stand in a message: "the cell " + fault.
func (f NumberFault) String() string {
	switch f {
	case NumberOK:
		return "is a number"
	case NumberEmpty:
		return "is empty"
	case NumberNotFinite:
		return "is not a finite number"
	case NumberRange:
		return "is too large for a number"
	default:
		return "is not a number"
	}
}

// pow10 holds the powers of ten that a float64 holds exactly.
var pow10 = [...]float64{
	1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
}

// ParseFloat reads a decimal number with optional sign, fraction and exponent;
// blanks around it are passed over. Where decimalComma is set the mark is a
// comma and a point is a fault, otherwise the reverse: a file that mixes them is
// never guessed at. Words, hexadecimal numbers, digit separators and units are
// faults. The result is the float64 nearest to the text.
//
// A significand below 2^53 and a power of ten up to 22 are both exact, so that
// one correctly rounded product or quotient is the nearest number (Clinger
// 1990); everything else goes to strconv.
func ParseFloat(cell []byte, decimalComma bool) (float64, NumberFault) {
	mark := byte('.')
	if decimalComma {
		mark = ','
	}
	if v, ok := parseShort(cell, mark); ok {
		return v, NumberOK
	}
	i, n := 0, len(cell)
	for i < n && (cell[i] == ' ' || cell[i] == '\t') {
		i++
	}
	for n > i && (cell[n-1] == ' ' || cell[n-1] == '\t') {
		n--
	}
	if i == n {
		return 0, NumberEmpty
	}
	start, negative := i, false
	switch cell[i] {
	case '-':
		negative = true
		i++
	case '+':
		i++
	}
	var significand uint64
	first := i
	for i < n && cell[i]-'0' <= 9 {
		significand = significand*10 + uint64(cell[i]-'0')
		i++
	}
	digits, exponent := i-first, 0
	if i < n && cell[i] == mark {
		i++
		fraction := i
		for i < n && cell[i]-'0' <= 9 {
			significand = significand*10 + uint64(cell[i]-'0')
			i++
		}
		exponent = fraction - i
		digits += i - fraction
	}
	if digits == 0 {
		return 0, wordFault(cell[start:n])
	}
	if i < n && (cell[i] == 'e' || cell[i] == 'E') {
		e, next, ok := parseExponent(cell[:n], i+1)
		if !ok {
			return 0, NumberSyntax
		}
		exponent, i = exponent+e, next
	}
	if i != n {
		return 0, NumberSyntax
	}
	if digits <= 19 && significand < 1<<53 && exponent >= -22 && exponent <= 22 {
		v := float64(significand)
		if exponent < 0 {
			v /= pow10[-exponent]
		} else {
			v *= pow10[exponent]
		}
		if negative {
			v = -v
		}
		return v, NumberOK
	}
	return parseSlow(cell[start:n], decimalComma)
}

// parseShort reads up to eight characters, digits with at most one mark among
// them, without a step per character; ok is false for all others. The bytes
// behind the cell are read as well, which its capacity must allow.
//
// The characters are put to the end of a word, behind zeros; the mark is closed
// up; then neighbours are joined to pairs, fours and eight by one product each
// (Lemire 2021, Software: Practice and Experience 51, 1700).
func parseShort(cell []byte, mark byte) (v float64, ok bool) {
	n := len(cell)
	if n == 0 || n > 8 || cap(cell) < 8 {
		return 0, false
	}
	pad := 8 * uint(8-n)
	x := binary.LittleEndian.Uint64(cell[:8])<<pad ^ 0x3030303030303030<<pad
	other := ((x & low7) + (0x80-10)*ones | x) & (0x80 * ones) // bytes that are no digits
	if other == 0 {
		return float64(eightDigits(x)), true
	}
	at := uint(bits.TrailingZeros64(other)) &^ 7
	if other&(other-1) != 0 || n == 1 || byte(x>>at)^0x30 != mark {
		return 0, false
	}
	before := x & (1<<at - 1)
	x = before<<8 | x&^(1<<at<<8-1)
	return float64(eightDigits(x)) / pow10[7-at/8], true
}

// eightDigits returns the number whose digits are the bytes of x, the lowest first.
func eightDigits(x uint64) uint64 {
	x = x * 2561 >> 8
	x = x & 0x00ff00ff00ff00ff * 6553601 >> 16
	return x & 0x0000ffff0000ffff * 42949672960001 >> 32
}

// parseExponent reads a signed decimal from cell[i:] and returns where it ends.
// Its size is capped far beyond what a float64 can hold.
func parseExponent(cell []byte, i int) (exponent, next int, ok bool) {
	negative := false
	if i < len(cell) && (cell[i] == '-' || cell[i] == '+') {
		negative = cell[i] == '-'
		i++
	}
	first := i
	for i < len(cell) && cell[i]-'0' <= 9 {
		if exponent < 100_000 {
			exponent = exponent*10 + int(cell[i]-'0')
		}
		i++
	}
	if negative {
		exponent = -exponent
	}
	return exponent, i, i > first
}

// parseSlow reads text that is known to be a decimal number.
func parseSlow(text []byte, decimalComma bool) (float64, NumberFault) {
	if decimalComma {
		text = append(make([]byte, 0, 48), text...)
		for i, c := range text {
			if c == ',' {
				text[i] = '.'
			}
		}
	}
	v, err := strconv.ParseFloat(unsafe.String(unsafe.SliceData(text), len(text)), 64)
	if errors.Is(err, strconv.ErrRange) && math.IsInf(v, 0) {
		return 0, NumberRange
	}
	if err != nil && !errors.Is(err, strconv.ErrRange) {
		return 0, NumberSyntax
	}
	return v, NumberOK
}

// wordFault tells the words for values that are not finite from other text.
func wordFault(text []byte) NumberFault {
	if len(text) > 0 && (text[0] == '+' || text[0] == '-') {
		text = text[1:]
	}
	if len(text) > len("infinity") {
		return NumberSyntax
	}
	var lower [8]byte
	for i, c := range text {
		lower[i] = c | 0x20
	}
	switch string(lower[:len(text)]) {
	case "nan", "inf", "infinity":
		return NumberNotFinite
	}
	return NumberSyntax
}
