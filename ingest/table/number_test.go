package table

import (
	"math"
	"strconv"
	"strings"
	"testing"
)

func TestParseFloat(t *testing.T) {
	for _, tt := range []struct {
		cell  string
		comma bool
		want  float64
		fault NumberFault
	}{
		{"0", false, 0, NumberOK},
		{"-0", false, math.Copysign(0, -1), NumberOK},
		{" 12.5\t", false, 12.5, NumberOK},
		{"+1e3", false, 1000, NumberOK},
		{"1.", false, 1, NumberOK},
		{".5", false, .5, NumberOK},
		{"8.54545e-4", false, 8.54545e-4, NumberOK},
		{"0.97499999999999964", false, 0.97499999999999964, NumberOK},
		{"9007199254740993", false, 9007199254740992, NumberOK}, // 2^53 + 1: a tie, to even
		{"1e400000000000", false, 0, NumberRange},
		{"1e-400000000000", false, 0, NumberOK},
		{"1e309", false, 0, NumberRange},
		{"12,5", true, 12.5, NumberOK},
		{"-1234567890123456789,25e1", true, -1234567890123456789.25e1, NumberOK},
		{"12.5", true, 0, NumberSyntax},
		{"12,5", false, 0, NumberSyntax},
		{"1.234,5", true, 0, NumberSyntax},
		{"", false, 0, NumberEmpty},
		{"  ", false, 0, NumberEmpty},
		{"NaN", false, 0, NumberNotFinite},
		{"-inf", false, 0, NumberNotFinite},
		{"+Infinity", false, 0, NumberNotFinite},
		{"infinitely", false, 0, NumberSyntax},
		{"0x10", false, 0, NumberSyntax},
		{"1_000", false, 0, NumberSyntax},
		{"1e", false, 0, NumberSyntax},
		{"1e+", false, 0, NumberSyntax},
		{"--1", false, 0, NumberSyntax},
		{"-", false, 0, NumberSyntax},
		{".", false, 0, NumberSyntax},
		{"e5", false, 0, NumberSyntax},
		{"1 2", false, 0, NumberSyntax},
		{"0.70%", false, 0, NumberSyntax},
		{"> 15.9", false, 0, NumberSyntax},
		{"１", false, 0, NumberSyntax},
	} {
		got, fault := ParseFloat([]byte(tt.cell), tt.comma)
		if fault != tt.fault || math.Float64bits(got) != math.Float64bits(tt.want) {
			t.Errorf("ParseFloat(%q, %t) = %v, %v; want %v, %v", tt.cell, tt.comma, got, fault, tt.want, tt.fault)
		}
		if fault.String() == "" {
			t.Errorf("fault %d has no words", fault)
		}
	}
}

func FuzzParseFloat(f *testing.F) {
	for _, s := range []string{"1.5", "-2e-3", "1e309", "0x1p4", "1_0", "NaN", "99999999999999999999.9", "1,5", "1.7976931348623157e308", "4.9e-324"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		got, fault := ParseFloat([]byte(text), false)
		want, err := strconv.ParseFloat(strings.Trim(text, " \t"), 64)
		plain := err == nil && !math.IsInf(want, 0) && !math.IsNaN(want) && !strings.ContainsAny(text, "xXpP_")
		switch {
		case fault == NumberOK && (math.IsNaN(got) || math.IsInf(got, 0)):
			t.Fatalf("%q gives %v", text, got)
		case plain != (fault == NumberOK) && !strings.Contains(err2text(err), "range"):
			t.Fatalf("%q: %v, %v; strconv %v, %v", text, got, fault, want, err)
		case plain && math.Float64bits(got) != math.Float64bits(want):
			t.Fatalf("%q: %v; strconv %v", text, got, want)
		}
	})
}

func err2text(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}

func BenchmarkParseFloat(b *testing.B) {
	cell := []byte("1234.56")
	for b.Loop() {
		ParseFloat(cell, false)
	}
}
