package acceptance

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"sheetwash/analysis"
	"sheetwash/analysis/result"
)

const handWorked = "../../../testdata/reference/hand-worked"

// TestHandWorked compares the rows of a small dataset with values worked out by
// hand. Derivations and sources stand in expected.csv, beside each value.
func TestHandWorked(t *testing.T) {
	plan := analysis.DefaultPlan()
	plan.Models = true
	a := analyse(t, handWorked, plan)
	f, err := os.Open(handWorked + "/expected.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	covered := map[result.Metric]bool{}
	for _, r := range rows[1:] {
		run, plot, metric, method, derivation := r[0], r[1], result.Metric(r[2]), r[3], r[6]
		want, err := strconv.ParseFloat(r[4], 64)
		if err != nil {
			t.Fatal(err)
		}
		tolerance, err := strconv.ParseFloat(r[5], 64)
		if err != nil {
			t.Fatal(err)
		}
		covered[metric] = true
		got, ok := find(a, run, plot, metric, method)
		if !ok {
			t.Errorf("%s/%s %s %s: no row", run, plot, metric, method)
			continue
		}
		if !got.OK || math.Abs(got.V-want) > tolerance*max(1, math.Abs(want)) {
			t.Errorf("%s/%s %s %s = %v (there: %v), want %v ± %g: %s", run, plot, metric, method, got.V, got.OK, want, tolerance, derivation)
		}
	}
	for _, m := range result.Catalogue() {
		if !covered[m.ID] {
			t.Errorf("metric %s has no hand-worked case", m.ID)
		}
	}
}
