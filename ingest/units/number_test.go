package units_test

import (
	"errors"
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/analysis/quantity"
	"sheetwash/ingest/units"
)

func TestNumber(t *testing.T) {
	for _, tt := range []struct {
		cell  string
		comma bool
		want  float64
		ok    bool
	}{
		{"12.5", false, 12.5, true}, {" 12.5 ", false, 12.5, true}, {"+3", false, 3, true}, {"-3", false, -3, true}, {"−3", false, -3, true},
		{".5", false, 0.5, true}, {"5.", false, 5, true}, {"8.54545e-4", false, 8.54545e-4, true}, {"1E3", false, 1000, true}, {"007", false, 7, true},
		{"12,5", true, 12.5, true}, {"1,5e2", true, 150, true}, {"12", true, 12, true}, {"\u00a012.5", false, 12.5, true},
		{"12,5", false, 0, false}, {"12.5", true, 0, false}, {"1,234.5", false, 0, false}, {"1.234,5", true, 0, false}, {"1 234", false, 0, false},
		{"NaN", false, 0, false}, {"nan", false, 0, false}, {"Inf", false, 0, false}, {"-inf", false, 0, false}, {"1e999", false, 0, false},
		{"0x1p4", false, 0, false}, {"1_000", false, 0, false}, {"", false, 0, false}, {"abc", false, 0, false}, {"1-2", false, 0, false}, {"--1", false, 0, false},
		{"e5", false, 0, false}, {"1e", false, 0, false}, {".", false, 0, false}, {"1..2", false, 0, false}, {"٣", false, 0, false}, {"> 15.9", false, 0, false},
	} {
		got, err := units.Number(tt.cell, tt.comma)
		if (err == nil) != tt.ok || got != tt.want || err != nil && !errors.Is(err, units.ErrNumber) {
			t.Errorf("Number(%q, %v) = %v, %v; want %v, %v", tt.cell, tt.comma, got, err, tt.want, tt.ok)
		}
	}
}

// Every number is read back from its shortest decimal form to the last bit,
// with either decimal mark.
func TestNumberRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64().Filter(func(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }).Draw(t, "v")
		text := strconv.FormatFloat(v, 'g', -1, 64)
		if got, err := units.Number(text, false); err != nil || got != v {
			t.Fatalf("Number(%q) = %v, %v", text, got, err)
		}
		if got, err := units.Number(strings.Replace(text, ".", ",", 1), true); err != nil || got != v {
			t.Fatalf("Number(%q) with a comma = %v, %v", text, got, err)
		}
	})
}

func TestDecoder(t *testing.T) {
	for _, tt := range []struct {
		cell, unit, canonical string
		want                  float64
	}{
		{"3", "[in_i]/h", "mm/h", 76.2},
		{"0.70%", "%", "%", 0.7},
		{"0.70 %", "1", "1", 0.007},
		{"0.70%", "1", "%", 0.7},
		{"5", "deg", "1", math.Tan(5 * math.Pi / 180)},
		{"5°", "%", "1", math.Tan(5 * math.Pi / 180)},
		{"50", "[degF]", "Cel", 10},
	} {
		d, err := units.NewDecoder(quantity.MustParse(tt.unit), quantity.MustParse(tt.canonical), false)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := d.Number(tt.cell); err != nil || math.Abs(got-tt.want) > 1e-15*math.Abs(tt.want) {
			t.Errorf("%q in %s = %v %s, %v; want %v", tt.cell, tt.unit, got, tt.canonical, err, tt.want)
		}
	}
	d, _ := units.NewDecoder(quantity.MustParse("mL"), quantity.MustParse("mL"), false)
	if _, err := d.Number("5%"); !errors.Is(err, units.ErrNumber) {
		t.Errorf("a percentage of millilitres: %v", err)
	}
	d, _ = units.NewDecoder(quantity.MustParse("deg"), quantity.MustParse("1"), false)
	if _, err := d.Number("90"); !errors.Is(err, quantity.ErrAngle) {
		t.Errorf("a slope of 90 deg: %v", err)
	}
	if _, err := units.NewDecoder(quantity.MustParse("g"), quantity.MustParse("mL"), false); !errors.Is(err, quantity.ErrDimension) {
		t.Errorf("grams as millilitres: %v", err)
	}
}

// The standard uncertainty of a class of width w is w/sqrt(12): JCGM 100:2008, 4.3.7.
func TestDecoderClass(t *testing.T) {
	for _, tt := range []struct {
		cell, unit string
		mid, width float64 // rise over run
	}{
		{"1-3 %", "%", 0.02, 0.02}, {"1-3", "%", 0.02, 0.02}, {"1–3%", "1", 0.02, 0.02}, {"1% - 3%", "%", 0.02, 0.02}, {"1 to 3 %", "%", 0.02, 0.02},
		{"0.01-0.03", "1", 0.02, 0.02}, {"2.5", "%", 0.025, 0}, {"-2", "%", -0.02, 0}, {"1e-2", "1", 0.01, 0},
		{"0-45", "deg", 0.5, 1}, // tan 45 deg = 1
	} {
		d, err := units.NewDecoder(quantity.MustParse(tt.unit), quantity.MustParse("1"), false)
		if err != nil {
			t.Fatal(err)
		}
		mid, u, err := d.Class(tt.cell)
		if err != nil || math.Abs(mid-tt.mid) > 1e-15 || math.Abs(u-tt.width/math.Sqrt(12)) > 1e-15 {
			t.Errorf("Class(%q) in %s = %v ± %v, %v; want %v ± %v", tt.cell, tt.unit, mid, u, err, tt.mid, tt.width/math.Sqrt(12))
		}
	}
	d, _ := units.NewDecoder(quantity.MustParse("%"), quantity.MustParse("1"), false)
	for _, cell := range []string{"3-1 %", "1-1", "1-", "-", "1-2-3", "a-b", "steep", "", "1 to", "%"} {
		if mid, u, err := d.Class(cell); !errors.Is(err, units.ErrNumber) {
			t.Errorf("Class(%q) = %v ± %v, %v; want ErrNumber", cell, mid, u, err)
		}
	}
}

func FuzzNumber(f *testing.F) {
	for _, s := range []string{"12.5", "1-3 %", "1–3%", "0.70%", "1e-5", "−3", "1 to 3", "--", "5°"} {
		f.Add(s, false)
		f.Add(s, true)
	}
	f.Fuzz(func(t *testing.T, cell string, comma bool) {
		if v, err := units.Number(cell, comma); err == nil && (math.IsNaN(v) || math.IsInf(v, 0)) {
			t.Fatalf("Number(%q) = %v", cell, v)
		}
		d, _ := units.NewDecoder(quantity.MustParse("%"), quantity.MustParse("1"), comma)
		if mid, u, err := d.Class(cell); err == nil && (math.IsNaN(mid) || math.IsInf(mid, 0) || !(u >= 0) || math.IsInf(u, 0)) {
			t.Fatalf("Class(%q) = %v ± %v", cell, mid, u)
		}
	})
}
