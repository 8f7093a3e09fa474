package rainfall

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// ErrCatch is returned for a catch that has no uniformity: fewer than two cans,
// a negative or infinite depth, or nothing caught at all.
var ErrCatch = errors.New("catch without a uniformity")

// Christiansen returns the uniformity coefficient of cans of equal mouth on a
// regular grid.
//
//	CU = 100 (1 - sum|x - m| / (n m)),  m = mean of x
//
// Units: x in any unit of depth or rate, CU in %. It can be negative, and is not
// a percentage of the area.
// Source: [Christiansen1942].
// Errors: ErrCatch for fewer than two cans, a negative depth, or m = 0.
func Christiansen(catch []float64) (float64, error) {
	m, err := catchMean(catch)
	if err != nil {
		return 0, err
	}
	var dev float64
	for _, x := range catch {
		dev += math.Abs(x - m)
	}
	return 100 * (1 - dev/(float64(len(catch))*m)), nil
}

// ChristiansenNormal returns the Christiansen uniformity of a catch that is
// normally distributed with coefficient of variation cv.
//
//	CU = 100 (1 - sqrt(2/pi) cv)
//
// Units: cv as a fraction, CU in %.
// Source: [Hart1961], who rounds the factor to 0.798.
func ChristiansenNormal(cv float64) float64 { return 100 * (1 - math.Sqrt(2/math.Pi)*cv) }

// LowQuarterNormal returns the low-quarter uniformity of a catch that is
// normally distributed with coefficient of variation cv.
//
//	DUlq = 100 (1 - 1.2711 cv),  1.2711 = phi(z_0.25) / 0.25
//
// Units: cv as a fraction, DUlq in %.
// Source: [Hart1961], who rounds the factor to 1.27; mean of the lowest quarter
// of a normal distribution.
func LowQuarterNormal(cv float64) float64 { return 100 * (1 - 1.2711063*cv) }

// Boundary says how many cans the lowest part of a catch has where the part is
// not a whole number of them.
type Boundary uint8

// The conventions. Fractional gives the boundary can the weight that makes the
// part exact; the others take whole cans: the nearest number (halves up), the
// lower or the higher one. In one published catch of 15 cans they give from
// 40.1 to 49.6 %, so a result without its convention says little.
const (
	Fractional Boundary = iota
	Round
	Floor
	Ceil
)

var boundaryNames = [...]string{"fractional", "round", "floor", "ceil"}

// String returns the convention's name.
func (b Boundary) String() string { return boundaryNames[b] }

// ParseBoundary returns the convention of a name.
func ParseBoundary(name string) (Boundary, bool) {
	i := slices.Index(boundaryNames[:], name)
	return Boundary(max(i, 0)), i >= 0
}

// cans returns how many of n cans the part holds.
func (b Boundary) cans(n int, part float64) float64 {
	x := part * float64(n)
	switch b {
	case Round:
		return math.Floor(x + 0.5)
	case Floor:
		return math.Floor(x)
	case Ceil:
		return math.Ceil(x)
	default:
		return x
	}
}

// LowQuarter returns the distribution uniformity of the lowest quarter.
//
//	DUlq = 100 (mean of the lowest n/4) / (mean of all n)
//
// Units: catch in any unit of depth or rate, DUlq in %. The rule says what n/4
// is where it is not whole.
// Source: [MerriamKeller1978].
// Errors: ErrCatch as Christiansen, and where the rule leaves no can in the quarter.
func LowQuarter(catch []float64, rule Boundary) (float64, error) {
	return lowPart(catch, 0.25, rule)
}

// LowHalf returns the distribution uniformity of the lowest half: LowQuarter
// with n/2.
func LowHalf(catch []float64, rule Boundary) (float64, error) {
	return lowPart(catch, 0.5, rule)
}

func lowPart(catch []float64, part float64, rule Boundary) (float64, error) {
	m, err := catchMean(catch)
	if err != nil {
		return 0, err
	}
	k := rule.cans(len(catch), part)
	if !(k > 0) {
		return 0, fmt.Errorf("%w: no can in the lowest part of %d by rule %s", ErrCatch, len(catch), rule)
	}
	sorted := slices.Sorted(slices.Values(catch))
	var sum float64
	left := k
	for _, x := range sorted {
		w := min(left, 1)
		sum += w * x
		if left -= w; left <= 0 {
			break
		}
	}
	return 100 * sum / (k * m), nil
}

// Variation returns the coefficient of variation of a catch.
//
//	CV = s / m,  s with n - 1
//
// Units: a fraction. Source: definition.
// Errors: ErrCatch as Christiansen.
func Variation(catch []float64) (float64, error) {
	m, err := catchMean(catch)
	if err != nil {
		return 0, err
	}
	return math.Sqrt(sumSquares(catch, m)/float64(len(catch)-1)) / m, nil
}

func catchMean(catch []float64) (float64, error) {
	if len(catch) < 2 {
		return 0, fmt.Errorf("%w: %d cans", ErrCatch, len(catch))
	}
	for i, x := range catch {
		if !(x >= 0) || math.IsInf(x, 1) {
			return 0, fmt.Errorf("%w: can %d caught %v", ErrCatch, i+1, x)
		}
	}
	m := mean(catch)
	if m == 0 {
		return 0, fmt.Errorf("%w: every can is dry", ErrCatch)
	}
	return m, nil
}

func mean(x []float64) float64 {
	var s float64
	for _, v := range x {
		s += v
	}
	return s / float64(len(x))
}

func sumSquares(x []float64, m float64) float64 {
	var s float64
	for _, v := range x {
		s += (v - m) * (v - m)
	}
	return s
}
