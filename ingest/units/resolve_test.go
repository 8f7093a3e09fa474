package units_test

import (
	"errors"
	"fmt"
	"testing"

	"sheetwash/analysis/quantity"
	"sheetwash/ingest/issue"
	"sheetwash/ingest/units"
)

func TestResolve(t *testing.T) {
	rate, volume, mass := quantity.DepthRate, quantity.Volume, quantity.Mass
	for _, tt := range []struct {
		spellings []string
		expected  quantity.Dimension
		want      string // UCUM
		note      issue.Code
	}{
		{spellings: []string{
			"mm/h", "mm/hr", "mm/hour", "mmhr", "mmh", "mm h-1", "mm hr-1", "mm h^-1", "mm·h⁻¹", "mm h⁻¹", "mm.h-1", "MM/H", "mm_hr", "mm.hr", "mm per hour",
			"mm_per_h", "millimeters/hour", "Millimetres per Hour", "mm / h", " mm/h ",
		}, expected: rate, want: "mm/h"},
		{spellings: []string{"mm/min", "mm_min", "mmmin", "mm min-1", "mm/minute"}, expected: rate, want: "mm/min"},
		{spellings: []string{"in/h", "in/hr", "in hr", "iph", "IPH", "inches/hour", "inches per hour", "in_hr", "inhr", "[in_i]/h"}, expected: rate, want: "[in_i]/h"},
		{spellings: []string{"in", "inches", "Inch", `"`, "″", "in_i"}, expected: quantity.Length, want: "[in_i]"},
		{spellings: []string{"psi", "PSI", "psig", "[psi]"}, expected: quantity.Pressure, want: "[psi]"},
		{spellings: []string{"kPa", "kpa", "KPA"}, expected: quantity.Pressure, want: "kPa"},
		{spellings: []string{"bar"}, expected: quantity.Pressure, want: "bar"},
		{spellings: []string{"gal", "gallon", "gallons", "Gal"}, expected: volume, want: "[gal_us]", note: units.USGallon},
		{spellings: []string{"US gal", "us gallon", "[gal_us]", "gal_us"}, expected: volume, want: "[gal_us]"},
		{spellings: []string{"imp gal", "imp. gal", "imperial gallons", "UK gal", "impgal"}, expected: volume, want: "[gal_br]"},
		{spellings: []string{"gpm", "gal/min", "gallons per minute"}, expected: quantity.VolumeRate, want: "[gal_us]/min", note: units.USGallon},
		{spellings: []string{"fl oz", "fl_oz", "floz", "fluid ounces", "oz", "ounces", "fl. oz"}, expected: volume, want: "[foz_us]", note: units.USGallon},
		{spellings: []string{"oz", "ounce"}, expected: mass, want: "[oz_av]"},
		{spellings: []string{"lb", "lbs", "pounds", "LB"}, expected: mass, want: "[lb_av]"},
		{spellings: []string{"ft2", "ft^2", "ft²", "sq ft", "sqft", "sq_ft", "Square Feet", "sq. ft"}, expected: quantity.Area, want: "[sft_i]"},
		{spellings: []string{"ac", "acre", "acres"}, expected: quantity.Area, want: "[acr_us]"},
		{spellings: []string{"m2", "m^2", "m²", "sqm", "sq m", "M2"}, expected: quantity.Area, want: "m2"},
		{spellings: []string{"cm2", "cm²", "sq cm"}, expected: quantity.Area, want: "cm2"},
		{spellings: []string{"ha", "har", "hectares"}, expected: quantity.Area, want: "har"},
		{spellings: []string{"°F", "degF", "deg F", "F", "[degF]", "fahrenheit"}, expected: quantity.Temperature, want: "[degF]"},
		{spellings: []string{"°C", "degC", "deg C", "C", "c", "Cel", "celsius", "℃"}, expected: quantity.Temperature, want: "Cel"},
		{spellings: []string{"g/L", "g/l", "gL", "g L-1", "G/L", "g_L", "g per liter"}, expected: quantity.Concentration, want: "g/L"},
		{spellings: []string{"mg/L", "mg/l", "mgL", "mg_L"}, expected: quantity.Concentration, want: "mg/L"},
		{spellings: []string{"ppm", "PPM"}, expected: quantity.Concentration, want: "mg/L", note: units.PartsPer},
		{spellings: []string{"ppm"}, expected: quantity.Dimensionless, want: "[ppm]"},
		{spellings: []string{"t/ha", "t ha-1", "tha", "tonnes per hectare", "T/HA"}, expected: quantity.MassPerArea, want: "t/har"},
		{spellings: []string{"ton/acre", "tons/ac", "tons per acre"}, expected: quantity.MassPerArea, want: "[ston_av]/[acr_us]", note: units.Ton},
		{spellings: []string{"s", "sec", "secs", "Seconds", "S"}, expected: quantity.Time, want: "s"},
		{spellings: []string{"min", "mins", "Minutes", "MIN"}, expected: quantity.Time, want: "min"},
		{spellings: []string{"h", "hr", "hrs", "hours", "H"}, expected: quantity.Time, want: "h"},
		{spellings: []string{"%", "pct", "percent", "per cent", "vol%"}, expected: quantity.Dimensionless, want: "%"},
		{spellings: []string{"mL", "ml", "cc", "cm3", "cm³", "milliliters"}, expected: volume, want: "mL"},
		{spellings: []string{"ML", "Ml"}, expected: volume, want: "mL", note: units.LetterCase},
		{spellings: []string{"Mm/hr"}, expected: rate, want: "mm/h", note: units.LetterCase},
		{spellings: []string{"Mm"}, expected: quantity.Length, want: "mm", note: units.LetterCase},
		{spellings: []string{"l", "L", "liters", "litre"}, expected: volume, want: "L"},
		{spellings: []string{"L/min", "l/min", "lpm", "L min-1"}, expected: quantity.VolumeRate, want: "L/min"},
		{spellings: []string{"mL/min", "ml.min", "ml_min"}, expected: quantity.VolumeRate, want: "mL/min"},
		{spellings: []string{"NTU", "ntu", "{NTU}"}, expected: quantity.Turbidity, want: "{NTU}"},
		{spellings: []string{"deg", "degrees", "°"}, expected: quantity.Angle, want: "deg"},
		{spellings: []string{"m/m", "fraction", "1"}, expected: quantity.Dimensionless, want: "1"},
		{spellings: []string{"MPa"}, expected: quantity.Pressure, want: "MPa"},
		{spellings: []string{"mPa"}, expected: quantity.Pressure, want: "mPa"}, // UCUM as it stands
		{spellings: []string{"MJ mm ha-1 h-1", "MJ.mm/(har.h)"}, expected: quantity.Dimension{Length: 1, Mass: 1, Time: -3}, want: "MJ.mm/(har.h)"},
	} {
		want := quantity.MustParse(tt.want)
		for _, s := range tt.spellings {
			got, err := units.Resolve(s, tt.expected)
			if err != nil || !got.Unit.Equal(want) {
				t.Errorf("Resolve(%q, %s) = %s, %v; want %s", s, tt.expected.Describe(), got.Unit, err, tt.want)
				continue
			}
			var note issue.Code
			if len(got.Notes) > 0 {
				note = got.Notes[0].Code
			}
			if note != tt.note {
				t.Errorf("Resolve(%q): note %q, want %q", s, note, tt.note)
			}
		}
	}
}

func TestResolveRefuses(t *testing.T) {
	for _, tt := range []struct {
		spelling string
		expected quantity.Dimension
		want     error
	}{
		{"furlong", quantity.Length, units.ErrUnknown},
		{"mll", quantity.Volume, units.ErrUnknown},
		{"", quantity.Volume, units.ErrUnknown},
		{"gr", quantity.Mass, units.ErrUnknown}, // gram or grain
		{"GR", quantity.Mass, units.ErrUnknown},
		{"gr/L", quantity.Concentration, units.ErrUnknown},
		{"a/b/c/d/e/f/g", quantity.Volume, units.ErrUnknown},
		{"observed", quantity.Time, units.ErrUnknown},
		{"in", quantity.DepthRate, units.ErrDimension},
		{"mL", quantity.Mass, units.ErrDimension},
		{"g", quantity.Volume, units.ErrDimension},
		{"m", quantity.Time, units.ErrDimension},
		{"%", quantity.Turbidity, units.ErrDimension},
		{"°C", quantity.Length, units.ErrDimension},
		{"ppm", quantity.Length, units.ErrDimension},
	} {
		got, err := units.Resolve(tt.spelling, tt.expected)
		if !errors.Is(err, tt.want) {
			t.Errorf("Resolve(%q, %s) = %s, %v; want %v", tt.spelling, tt.expected.Describe(), got.Unit, err, tt.want)
		}
	}
}

// Without an expectation a code of UCUM is itself and a word its first meaning.
func TestResolveWithoutExpectation(t *testing.T) {
	for spelling, want := range map[string]string{"oz": "[foz_us]", "mm/h/d": "mm/h/d", "uS/cm": "uS/cm", "mmol/L": "mmol/L", "µg/L": "ug/L", "kg m-2 s-1": "kg.m-2.s-1"} {
		if got, err := units.Resolve(spelling); err != nil || !got.Unit.Equal(quantity.MustParse(want)) {
			t.Errorf("Resolve(%q) = %s, %v; want %s", spelling, got.Unit, err, want)
		}
	}
}

func FuzzResolve(f *testing.F) {
	for _, s := range []string{"mm/h", "mm h-1", "fl. oz.", "°C", "imp gal/ac", "g_L", "m2 m2 m2 m2 m2", "....", "/", "((", "mg N/L", "a per b per c"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		any, err := units.Resolve(s)
		if err != nil {
			return
		}
		again, err := units.Resolve(s, any.Unit.Dimension())
		if err != nil || !again.Unit.Equal(any.Unit) {
			t.Fatalf("%q is %s, and %s, %v where %s is expected", s, any.Unit, again.Unit, err, any.Unit.Dimension())
		}
	})
}

func ExampleResolve() {
	got, _ := units.Resolve("gal/min", quantity.VolumeRate)
	fmt.Println(got.Unit, got.Notes[0].Code)
	// Output: [gal_us]/min unit.us_gallon
}
