package quantity_test

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/analysis/quantity"
)

// codes are the units that columns, files and reports use.
var codes = []string{
	"mm", "cm", "m", "[in_i]", "[ft_i]", "m2", "cm2", "[sft_i]", "[acr_us]", "har", "L", "l", "mL", "cm3", "[gal_us]", "[gal_br]", "[foz_us]",
	"g", "kg", "mg", "ug", "t", "[lb_av]", "[oz_av]", "[ston_av]", "s", "min", "h", "d", "Pa", "kPa", "hPa", "bar", "mbar", "[psi]",
	"Cel", "[degF]", "K", "%", "1", "[ppm]", "{NTU}", "J", "MJ", "mm/h", "mm/min", "[in_i]/h", "mL/min", "[gal_us]/min", "g/L", "mg/L",
	"kg/har", "t/har", "[ston_av]/[acr_us]", "[lb_av]/[acr_us]", "g/m2", "MJ.mm/(har.h)", "J/(m2.mm)", "mm.h-1", "deg", "mS/cm", "mmol/L",
}

// Factors: Thompson and Taylor (2008), NIST Special Publication 811, appendix B.8 (alphabetical
// list) and B.9. Those without a tolerance are exact by definition there.
func TestConvertTo(t *testing.T) {
	for _, tt := range []struct {
		name     string
		v        float64
		from, to string
		want     float64
		tol      float64 // relative; 0: to the last bit
	}{
		{"seconds to minutes", 90, "s", "min", 1.5, 0},
		{"inches per hour", 1, "[in_i]/h", "mm/h", 25.4, 0},
		{"inch", 2, "[in_i]", "mm", 50.8, 0},
		{"foot", 1, "[ft_i]", "m", 0.3048, 0},
		{"square foot, B.8: 9.290304 E-02", 1, "[sft_i]", "m2", 9.290304e-2, 1e-15},
		{"acre (US survey), B.8: 4.046873 E+03", 1, "[acr_us]", "m2", 4.046873e3, 2e-7},
		{"hectare", 1, "har", "m2", 1e4, 0},
		{"gallon (US), B.8: 3.785412 E+00", 1, "[gal_us]", "L", 3.785412, 2e-7},
		{"gallon (imperial), B.8: 4.54609 E+00", 1, "[gal_br]", "L", 4.54609, 1e-15},
		{"ounce (US fluid), B.8: 2.957353 E+01", 1, "[foz_us]", "mL", 2.957353e1, 2e-7},
		{"ounce (avoirdupois), B.8: 2.834952 E+01", 1, "[oz_av]", "g", 2.834952e1, 2e-7},
		{"pound (avoirdupois), B.8: 4.535924 E-01", 1, "[lb_av]", "kg", 4.535924e-1, 2e-7},
		{"ton, short, B.8: 9.071847 E+02", 1, "[ston_av]", "kg", 9.071847e2, 2e-7},
		{"psi, B.8: 6.894757 E+00", 1, "[psi]", "kPa", 6.894757, 2e-7},
		{"bar", 1, "bar", "kPa", 100, 0},
		{"gallon per minute, B.8: 6.309020 E-02 L/s", 1, "[gal_us]/min", "L/s", 6.309020e-2, 2e-7},
		{"pound per acre from 0.45359237 kg and 4046.872610 m2", 1, "[lb_av]/[acr_us]", "kg/har", 0.45359237 / 0.404687261, 1e-9},
		{"inch of water, B.8: 2.490889 E+02 Pa", 1, "[in_i'H2O]", "Pa", 249.0889, 2e-7},
		{"calories are not known, joules are", 1, "MJ", "J", 1e6, 0},
		{"litre on a square metre is a millimetre", 1, "L/m2", "mm", 1, 0},
		{"millilitre is a cubic centimetre", 7, "mL", "cm3", 7, 0},
		{"parts per million", 1, "%", "[ppm]", 1e4, 0},
		{"body heat: 98.6 F is 37 C", 98.6, "[degF]", "Cel", 37, 1e-15},
		{"freezing", 32, "[degF]", "Cel", 0, 0},
		{"boiling", 100, "Cel", "[degF]", 212, 0},
		{"where the scales meet", -40, "Cel", "[degF]", -40, 0},
		{"absolute zero", 0, "K", "Cel", -273.15, 0},
		{"erosivity, Foster et al. 1981: 1 (hundreds of foot tonf inch)/(acre hour) is 17.02 MJ mm/(ha h)",
			1, "100.[ft_i].[ston_av].[g].[in_i]/([acr_us].h)", "MJ.mm/(har.h)", 17.02, 3e-4},
		{"a right triangle: tan 45 deg", 45, "deg", "%", 100, 1e-15},
		{"tan 15 deg = 2 - sqrt 3", 15, "deg", "1", 2 - math.Sqrt(3), 1e-15},
		{"and back", 100, "%", "deg", 45, 1e-15},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got, err := parse(t, tt.from).ConvertTo(tt.v, parse(t, tt.to))
			if err != nil || math.Abs(got-tt.want) > tt.tol*math.Abs(tt.want) {
				t.Errorf("%v %s = %.17g %s, %v; want %.17g", tt.v, tt.from, got, tt.to, err, tt.want)
			}
		})
	}
}

func TestParseRefuses(t *testing.T) {
	for _, code := range []string{
		"", " ", "mm h", "mm//h", "/", "mm/", ".mm", "(mm", "mm)", "()", "furlong", "MM", "mmHg", "kmin", "m-", "m+", "m10", "m0",
		"0", "0.5", "Cel/h", "kCel", "Cel2", "[degF].m", "[gal]", "[in_i", "{NTU", "{a b}", "m{", "µm", "m²", "°C", "m9m9", "((((((((((m))))))))))",
		"m9.m9.m9", "10000000000", "k", "kk", "m.k", "\x00", "[]",
	} {
		if u, err := quantity.Parse(code); !errors.Is(err, quantity.ErrUnit) {
			t.Errorf("Parse(%q) = %v, %v; want ErrUnit", code, u.Dimension(), err)
		}
	}
}

func TestDimensions(t *testing.T) {
	for _, tt := range []struct {
		code string
		want quantity.Dimension
		text string
	}{
		{"1", quantity.Dimensionless, "1"},
		{"%", quantity.Dimensionless, "1"},
		{"{bottle}", quantity.Dimensionless, "1"},
		{"{NTU}", quantity.Turbidity, "turbidity"},
		{"mm/h", quantity.DepthRate, "L T-1"},
		{"L/min", quantity.VolumeRate, "L3 T-1"},
		{"g/L", quantity.Concentration, "L-3 M"},
		{"[psi]", quantity.Pressure, "L-1 M T-2"},
		{"J/m2/mm", quantity.Pressure, "L-1 M T-2"},
		{"deg", quantity.Angle, "angle"},
		{"10*3.g", quantity.Mass, "M"},
		{"g{dry}/m2", quantity.MassPerArea, "L-2 M"},
		{"/h", quantity.Dimension{Time: -1}, "T-1"},
	} {
		u := parse(t, tt.code)
		if u.Dimension() != tt.want || u.Dimension().String() != tt.text {
			t.Errorf("%s: %v, want %s", tt.code, u.Dimension(), tt.text)
		}
	}
	for _, pair := range [][2]string{{"mm", "mL"}, {"{NTU}", "1"}, {"deg", "mm"}, {"Cel", "%"}, {"g/L", "%"}, {"mm/h", "mL/min"}} {
		if _, err := parse(t, pair[0]).ConvertTo(1, parse(t, pair[1])); !errors.Is(err, quantity.ErrDimension) {
			t.Errorf("%s to %s: %v, want ErrDimension", pair[0], pair[1], err)
		}
	}
	if _, err := (quantity.Unit{Code: "mm"}).ConvertTo(1, parse(t, "m")); !errors.Is(err, quantity.ErrUnit) {
		t.Errorf("a unit that was not parsed: %v, want ErrUnit", err)
	}
	for _, v := range []float64{90, -90, 120, math.Inf(1)} {
		if _, err := parse(t, "deg").ConvertTo(v, parse(t, "%")); !errors.Is(err, quantity.ErrAngle) {
			t.Errorf("slope of %v deg: %v, want ErrAngle", v, err)
		}
	}
	if !(quantity.Unit{}).Equal(parse(t, "1")) || !parse(t, "dm3").Equal(parse(t, "L")) || parse(t, "Cel").Equal(parse(t, "K")) {
		t.Error("Equal compares scales, not codes")
	}
}

// A number taken to another unit of its dimension and back is the same, and
// going through a third unit makes no difference.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := quantity.MustParse(rapid.SampledFrom(codes).Draw(t, "a"))
		var same []quantity.Unit
		for _, c := range codes {
			if u := quantity.MustParse(c); u.Dimension() == a.Dimension() {
				same = append(same, u)
			}
		}
		b, c := rapid.SampledFrom(same).Draw(t, "b"), rapid.SampledFrom(same).Draw(t, "c")
		v := rapid.Float64Range(-1e6, 1e6).Draw(t, "v")
		scale := math.Abs(v) + 1000 // temperature scales add hundreds
		there := convert(t, a, v, b)
		if back := convert(t, b, there, a); math.Abs(back-v) > 1e-12*scale {
			t.Fatalf("%v %s = %v %s = %v %s", v, a, there, b, back, a)
		}
		direct, through := convert(t, a, v, c), convert(t, b, there, c)
		if math.Abs(direct-through) > 1e-12*(math.Abs(direct)+math.Abs(convert(t, a, scale, c))) {
			t.Fatalf("%v %s = %v %s directly and %v through %s", v, a, direct, c, through, b)
		}
	})
}

// Compounds factor: converting a/b is converting a over converting b.
func TestCompound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lengths, times := []string{"mm", "cm", "m", "[in_i]", "[ft_i]"}, []string{"s", "min", "h", "d"}
		l1, l2 := rapid.SampledFrom(lengths).Draw(t, "l1"), rapid.SampledFrom(lengths).Draw(t, "l2")
		t1, t2 := rapid.SampledFrom(times).Draw(t, "t1"), rapid.SampledFrom(times).Draw(t, "t2")
		rate := convert(t, quantity.MustParse(l1+"/"+t1), 1, quantity.MustParse(l2+"/"+t2))
		length := convert(t, quantity.MustParse(l1), 1, quantity.MustParse(l2))
		time := convert(t, quantity.MustParse(t1), 1, quantity.MustParse(t2))
		if math.Abs(rate-length/time) > 1e-14*rate {
			t.Fatalf("%s/%s to %s/%s: %v, want %v", l1, t1, l2, t2, rate, length/time)
		}
	})
}

// Slope is the derivative of Apply: the difference quotient tends to it.
func TestConversionSlope(t *testing.T) {
	for _, tt := range []struct {
		from, to string
		at       float64
	}{{"deg", "1", 12}, {"1", "deg", 0.2}, {"[in_i]", "mm", 3}, {"[degF]", "Cel", 50}, {"%", "1", 5}} {
		c, err := parse(t, tt.from).To(parse(t, tt.to))
		if err != nil {
			t.Fatal(err)
		}
		const h = 1e-5
		want := (c.Apply(tt.at+h) - c.Apply(tt.at-h)) / (2 * h)
		if got := c.Slope(tt.at); math.Abs(got-want) > 1e-8*math.Abs(want) {
			t.Errorf("%s to %s at %v: slope %v, want %v", tt.from, tt.to, tt.at, got, want)
		}
		num, den, linear := c.Linear()
		if linear && c.Apply(tt.at) != tt.at*num/den {
			t.Errorf("%s to %s: Linear and Apply differ", tt.from, tt.to)
		}
	}
	if c, err := parse(t, "dm3").To(parse(t, "L")); err != nil || !c.Identity() {
		t.Errorf("dm3 to L is no change: %v", err)
	}
}

func FuzzParse(f *testing.F) {
	for _, c := range append(codes, "((m", "m9.m9", "{", "10^-3.g", "[psi]2/[psi]", "/", "%%") {
		f.Add(c)
	}
	f.Fuzz(func(t *testing.T, code string) {
		u, err := quantity.Parse(code)
		if err != nil {
			return
		}
		if u.Code != code || u.Factor().Sign() <= 0 {
			t.Fatalf("Parse(%q): code %q, factor %v", code, u.Code, u.Factor())
		}
		if v, err := u.ConvertTo(3, u); err == nil && v != 3 {
			t.Fatalf("3 %s is %v of itself", code, v)
		}
	})
}

func parse(t *testing.T, code string) quantity.Unit {
	t.Helper()
	u, err := quantity.Parse(code)
	if err != nil {
		t.Fatal(err)
	}
	return u
}

func convert(t *rapid.T, from quantity.Unit, v float64, to quantity.Unit) float64 {
	t.Helper()
	out, err := from.ConvertTo(v, to)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func ExampleUnit_ConvertTo() {
	inchesPerHour, millimetresPerHour := quantity.MustParse("[in_i]/h"), quantity.MustParse("mm/h")
	v, _ := inchesPerHour.ConvertTo(3, millimetresPerHour)
	fmt.Println(v, millimetresPerHour)
	// Output: 76.2 mm/h
}
