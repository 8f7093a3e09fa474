package result_test

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/analysis/result"
)

// A key is taken apart to what it was made of, whatever the names hold.
func TestKeysComeApart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := rapid.SampledFrom([]string{result.TableHydrograph, result.TablePlots, result.TableFits, result.TableTreatments, result.TableComparisons, result.TableCalibrations, result.TableSeason}).Draw(t, "table")
		values := rapid.SliceOfN(rapid.String(), len(result.KeyColumns(table)), len(result.KeyColumns(table))).Draw(t, "values")
		key := result.Key(table, values...)
		got, parts, ok := result.ParseKey(key)
		if got != table || !ok || !slices.Equal(parts, values) || strings.Count(key, "/") != len(values) {
			t.Fatalf("%q of %q gives %q, %v", key, values, parts, ok)
		}
	})
}

func TestKeyOfPlotRow(t *testing.T) {
	r := result.PlotRow{Subject: &result.Subject{Dataset: "north/10 ha", Run: "R-1", Plot: "3"}, Metric: result.RunoffDepth, Method: "bottles"}
	if got, want := r.Key(), "plot_results/north%2F10%20ha/R-1/3/runoff_depth/bottles"; got != want {
		t.Errorf("key is %q, want %q", got, want)
	}
	for _, bad := range []string{"", "plot_results", "plot_results/a/b", "findings/a/b", "plot_results/a/b/c/d/%zz"} {
		if _, _, ok := result.ParseKey(bad); ok {
			t.Errorf("%q is taken for a key", bad)
		}
	}
}
