package quantity

import (
	"strconv"
	"strings"
)

// Dimension is the exponents of the base quantities of a unit. Two units can be
// converted into one another only if their dimensions are equal (or one is a
// slope angle and the other a slope, see Unit.To). The zero value is
// dimensionless.
//
// Departures from UCUM, where all three are dimensionless: plane angle,
// turbidity ({NTU}, {FNU}) and amount of substance are bases of their own, so
// that a turbidity is never taken for a percentage.
type Dimension struct {
	Length, Mass, Time, Temperature, Current, Amount, Angle, Turbidity int8
}

// The dimensions that columns of the data dictionary have.
var (
	Dimensionless = Dimension{}
	Length        = Dimension{Length: 1}
	Area          = Dimension{Length: 2}
	Volume        = Dimension{Length: 3}
	Mass          = Dimension{Mass: 1}
	Time          = Dimension{Time: 1}
	Temperature   = Dimension{Temperature: 1}
	Angle         = Dimension{Angle: 1}
	Turbidity     = Dimension{Turbidity: 1}
	DepthRate     = Dimension{Length: 1, Time: -1}
	VolumeRate    = Dimension{Length: 3, Time: -1}
	MassRate      = Dimension{Mass: 1, Time: -1}
	Pressure      = Dimension{Mass: 1, Length: -1, Time: -2}
	Concentration = Dimension{Mass: 1, Length: -3}
	MassPerArea   = Dimension{Mass: 1, Length: -2}
	Energy        = Dimension{Mass: 1, Length: 2, Time: -2}
)

// dimensionNames are the words for a reader, in the order of the variables above.
var dimensionNames = []struct {
	dim  Dimension
	name string
}{
	{Dimensionless, "a plain number"}, {Length, "a length"}, {Area, "an area"}, {Volume, "a volume"},
	{Mass, "a mass"}, {Time, "a time"}, {Temperature, "a temperature"}, {Angle, "an angle"},
	{Turbidity, "a turbidity"}, {DepthRate, "a depth per time"}, {VolumeRate, "a volume per time"},
	{MassRate, "a mass per time"}, {Pressure, "a pressure"}, {Concentration, "a mass per volume"},
	{MassPerArea, "a mass per area"}, {Energy, "an energy"},
}

// Describe returns words for a reader, such as "a depth per time"; for a
// dimension without a common name it returns the symbols of String.
func (d Dimension) Describe() string {
	for _, n := range dimensionNames {
		if n.dim == d {
			return n.name
		}
	}
	return "a quantity of dimension " + d.String()
}

// String returns the base symbols with their exponents, such as "L T-1", and
// "1" for a dimensionless one.
func (d Dimension) String() string {
	var b strings.Builder
	for i, e := range d.exponents() {
		if e == 0 {
			continue
		}
		if b.Len() > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(baseSymbols[i])
		if e != 1 {
			b.WriteString(strconv.Itoa(int(e)))
		}
	}
	if b.Len() == 0 {
		return "1"
	}
	return b.String()
}

var baseSymbols = [...]string{"L", "M", "T", "Θ", "I", "N", "angle", "turbidity"}

func (d Dimension) exponents() [8]int8 {
	return [8]int8{d.Length, d.Mass, d.Time, d.Temperature, d.Current, d.Amount, d.Angle, d.Turbidity}
}

// add returns d plus n times other, and false where an exponent would leave
// the range of -maxExponent to maxExponent.
func (d Dimension) add(other Dimension, n int) (Dimension, bool) {
	a, b := d.exponents(), other.exponents()
	for i := range a {
		e := int(a[i]) + n*int(b[i])
		if e < -maxExponent || e > maxExponent {
			return d, false
		}
		a[i] = int8(e)
	}
	return Dimension{a[0], a[1], a[2], a[3], a[4], a[5], a[6], a[7]}, true
}

// maxExponent bounds the exponents of a unit and of its dimension.
const maxExponent = 24
