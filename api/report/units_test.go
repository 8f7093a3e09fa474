package report_test

import (
	"math"
	"testing"

	"sheetwash/analysis/result"
	"sheetwash/api/report"
)

// Wanted factors: the inch of 25.4 mm exactly, the avoirdupois ounce of
// 28.349523125 g, the short ton of 907.18474 kg and the US survey acre of
// 4046.872609874252 m2 (NIST SP 811, appendix B).
func TestConvert(t *testing.T) {
	for _, tt := range []struct {
		value float64
		unit  string
		want  float64
		word  string
	}{
		{25.4, "mm/h", 1, "in/h"},
		{50.8, "mm", 2, "in"},
		{28.349523125, "g", 1, "oz"},
		{907184.74 / 4046.872609874252, "g/m2", 1, "ton/acre"},
		{2.5, "g/L", 2.5, "g/L"},
		{5, "min", 5, "min"},
		{0.5, "1", 0.5, "1"},
	} {
		got, word, err := report.US.Convert(tt.value, tt.unit)
		if err != nil || math.Abs(got-tt.want) > 1e-12*tt.want || word != tt.word {
			t.Errorf("US.Convert(%v %s) = %v %s, %v; want %v %s", tt.value, tt.unit, got, word, err, tt.want, tt.word)
		}
		if got, word, err := report.SI.Convert(tt.value, tt.unit); err != nil || got != tt.value || word != tt.unit {
			t.Errorf("SI.Convert(%v %s) = %v %s, %v; want it unchanged", tt.value, tt.unit, got, word, err)
		}
	}
}

// Every US unit of the catalogue has a factor and a word without brackets.
func TestCatalogueConverts(t *testing.T) {
	for _, m := range result.Catalogue() {
		_, word, err := report.US.Convert(1, m.SI)
		if err != nil {
			t.Errorf("%s: %v", m.ID, err)
		}
		if len(word) == 0 || word[0] == '[' {
			t.Errorf("%s: the unit column would hold %q", m.ID, word)
		}
	}
}

// A column name that carries a unit changes with it.
func TestColumnNames(t *testing.T) {
	for _, tt := range []struct{ table, si, us string }{
		{"hydrograph", "rate_mm_h", "rate_in_h"},
		{"hydrograph", "cumulative_mm", "cumulative_in"},
		{"hydrograph", "volume_ml", "volume_fl_oz"},
		{"hydrograph", "concentration_g_l", "concentration_g_l"},
		{"hydrograph", "start_min", "start_min"},
		{"plot_results", "value", "value"},
	} {
		si, _ := report.Find(tt.table, report.SI)
		us, _ := report.Find(tt.table, report.US)
		for i, c := range si.Columns {
			if c.Name == tt.si && us.Columns[i].Name != tt.us {
				t.Errorf("%s.%s is %s in US units, want %s", tt.table, tt.si, us.Columns[i].Name, tt.us)
			}
		}
	}
}
