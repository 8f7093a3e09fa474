package cli

import (
	"encoding/csv"
	"math"
	"strconv"
	"strings"
	"testing"
)

// The published catch of 15 cans after Christiansen (1942) of which Keller and Bliesner (2000) have 49.6 % with four cans in the low quarter
// and 40.1 % with three, by the key of analysis.yaml that chooses the convention.
func TestLowQuarterConvention(t *testing.T) {
	t.Chdir(t.TempDir())
	cans := "calibration,depth [mm],duration [min]\n"
	for _, mm := range []string{"47", "42", "45", "24", "13", "26", "33", "34", "27", "30", "40", "44", "32", "12", "12"} {
		cans += "C," + mm + ",60\n"
	}
	for rule, want := range map[string]float64{"": 47.7, "round": 49.6, "floor": 40.1, "ceil": 49.6, "fractional": 47.7} {
		write(t, "d/cans.csv", cans)
		write(t, "d/analysis.yaml", "")
		if rule != "" {
			write(t, "d/analysis.yaml", "low_quarter: "+rule+"\n")
		}
		if got := run(t, "analyze", "d", "--out", "out", "--force", "--quiet"); got.code != exitDone {
			t.Fatal(got.err)
		}
		rows, err := csv.NewReader(strings.NewReader(files(t, "out")["calibrations.csv"])).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		found := false
		for _, r := range rows {
			if r[4] != "uniformity_low_quarter" {
				continue
			}
			found = true
			if v, err := strconv.ParseFloat(r[5], 64); err != nil || math.Abs(v-want) > 0.05 {
				t.Errorf("%q: %s, want %v", rule, r[5], want)
			}
			if word := "fractional"; rule != "" && !strings.Contains(r[11], rule+"_quarter") || rule == "" && !strings.Contains(r[11], word+"_quarter") {
				t.Errorf("%q: flags %s", rule, r[11])
			}
		}
		if !found {
			t.Errorf("%q: no row", rule)
		}
	}
}
