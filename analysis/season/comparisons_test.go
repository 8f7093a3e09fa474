package season_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/analysis/season"
)

// of returns plots of a treatment in one event.
func of(treatment, event string, m result.Metric, values ...float64) []result.PlotRow {
	rows := plots(event, m, values...)
	for i := range rows {
		s := *rows[i].Subject
		s.Treatment, s.Plot = treatment, treatment+s.Plot
		rows[i].Subject = &s
	}
	return rows
}

func compare(t *testing.T, rows []result.PlotRow) []result.ComparisonRow {
	t.Helper()
	out, err := season.Comparisons(rows, season.Settings{Level: 0.95})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func pairOf(t *testing.T, rows []result.ComparisonRow, scope, treatment string) result.ComparisonRow {
	t.Helper()
	for _, r := range rows {
		if r.Scope == scope && r.Treatment == treatment {
			return r
		}
	}
	t.Fatalf("no comparison of %s in %s", treatment, scope)
	return result.ComparisonRow{}
}

// The reference cases two-welchlog of R 4.2.2: t.test(log(c(35.7, 80.2, 22.4)), log(c(2.2, 5.9, 1.3))) and the
// plain Welch test of c(41.2, 18.6, 27.9, 63.4) and c(3.1, 1.7, 6.9, 2.4): diff 34.25, p of t = 3.49907, df = 3.0855.
func TestWithinEvent(t *testing.T) {
	rows := append(of("bare", "e", result.SoilLoss, 35.7, 80.2, 22.4), of("mulch", "e", result.SoilLoss, 2.2, 5.9, 1.3)...)
	r := pairOf(t, compare(t, rows), "event:e", "mulch")
	geometric := func(v ...float64) float64 {
		s := 0.0
		for _, x := range v {
			s += math.Log(x) / float64(len(v))
		}
		return math.Exp(s)
	}
	near(t, "ratio", r.Value, geometric(2.2, 5.9, 1.3)/geometric(35.7, 80.2, 22.4), 1e-12)
	if r.Reference != "bare" || r.Effect != "ratio" || r.Unit != "1" || r.Method != "welch_t_log" || r.Adjustment != "holm" || !r.P.OK {
		t.Errorf("%+v", r)
	}
	rows = append(of("bare", "e", result.RunoffDepth, 41.2, 18.6, 27.9, 63.4), of("mulch", "e", result.RunoffDepth, 3.1, 1.7, 6.9, 2.4)...)
	r = pairOf(t, compare(t, rows), "event:e", "mulch")
	near(t, "difference", r.Value, -34.25, 1e-12)
	if r.Effect != "difference" || r.Unit != "mm" || r.Method != "welch_t" {
		t.Errorf("%+v", r)
	}
}

// Effects of events 1, 2 and 3 with equal weights: the mean, with Student's interval of
// the three, 2 ± 4.302653 * 1/sqrt 3, where plots scatter little next to events.
func TestOverEvents(t *testing.T) {
	var rows []result.PlotRow
	for e, d := range []float64{1, 2, 3} {
		name := fmt.Sprint("e", e)
		rows = append(rows, of("bare", name, result.RunoffDepth, 10, 10.01, 10.02)...)
		rows = append(rows, of("mulch", name, result.RunoffDepth, 10+d, 10.01+d, 10.02+d)...)
	}
	out := compare(t, rows)
	r := pairOf(t, out, "all", "mulch")
	near(t, "difference", r.Value, 2, 1e-9)
	near(t, "low", r.Low, 2-4.302652729911275/math.Sqrt(3), 1e-4)
	if r.Method != "random_effects_reml_hk" || !r.Flags.Has("i2=1") {
		t.Errorf("%+v", r)
	}
	further := 0
	for _, r := range out {
		if r.Scope == "all" && strings.HasSuffix(r.Method, ":further_event") && r.Flags.Has(season.FlagPrediction) && !r.PAdjusted.OK {
			further++
		}
	}
	if further != 1 {
		t.Errorf("%d intervals for a further event, want 1", further)
	}
}

// Three against three by ranks cannot reach p < 0.1, and says so.
func TestRankFloor(t *testing.T) {
	rows := append(of("bare", "e", result.SoilLoss, 30, 40, 50), of("mulch", "e", result.SoilLoss, 0, 1, 2)...)
	r := pairOf(t, compare(t, rows), "event:e", "mulch")
	near(t, "p", r.P, 0.1, 1e-12)
	if r.Method != "mann_whitney" || !r.Flags.Has("rank_floor=0.1") || !r.Flags.Has(season.FlagZerosIncluded) || r.Low.OK {
		t.Errorf("%+v", r)
	}
}

// Runs on the same soils are compared by their differences.
func TestRunsOnOneSoilArePairs(t *testing.T) {
	var rows []result.PlotRow
	for i, v := range []float64{14.2, 11.8, 16.4} {
		for k, s := range []string{"dry", "wet"} {
			row := plot("e", "r"+s, fmt.Sprint(i), result.RunoffDepth, v+3*float64(k)+0.1*float64(i*k), func(r *result.PlotRow) {
				r.Sequence, r.ExperimentalUnit = s, fmt.Sprint("soil", i)
			})
			rows = append(rows, row)
		}
	}
	r := pairOf(t, compare(t, rows), "event:e", "bare (wet)")
	near(t, "difference", r.Value, 3.1, 1e-9)
	if r.Method != "paired_t:by_soil" || !r.Flags.Has(season.FlagRepeatedMeasures) {
		t.Errorf("%+v", r)
	}
}

func TestReferenceRule(t *testing.T) {
	rows := slices.Concat(of("ley", "e", result.RunoffDepth, 1, 2), of("potatoes, bare", "e", result.RunoffDepth, 3, 4),
		of("stubble (control)", "e", result.RunoffDepth, 5, 6), of("ley", "f", result.RunoffDepth, 1, 2), of("mulch", "f", result.RunoffDepth, 3, 4))
	for _, tt := range []struct{ named, scope, want string }{
		{"", "event:e", "stubble (control)"},
		{"ley", "event:e", "ley"},
		{"", "event:f", "ley"}, // in two events, mulch in one
	} {
		out, err := season.Comparisons(rows, season.Settings{Level: 0.95, Reference: tt.named})
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(out, func(r result.ComparisonRow) bool { return r.Scope == tt.scope })
		if out[i].Reference != tt.want {
			t.Errorf("%s, named %q: reference %s, want %s", tt.scope, tt.named, out[i].Reference, tt.want)
		}
		if differs := tt.scope == "event:f"; out[i].Flags.Has(season.FlagReferenceDiffers) != differs {
			t.Errorf("%s: flags %v", tt.scope, out[i].Flags)
		}
	}
	if _, err := season.Comparisons(rows, season.Settings{Level: 0.95, Reference: "asphalt"}); !errors.Is(err, season.ErrReference) {
		t.Errorf("unknown reference: %v", err)
	}
}

// Letters and adjusted p tell the same treatments apart.
func TestLetters(t *testing.T) {
	rows := slices.Concat(of("bare", "e", result.RunoffDepth, 40, 41, 42, 43), of("disked", "e", result.RunoffDepth, 39.5, 41, 42.5, 43),
		of("mulch", "e", result.RunoffDepth, 10, 11, 12, 13))
	treatments, pairs, err := season.Summarise(rows, season.Settings{Level: 0.95})
	if err != nil {
		t.Fatal(err)
	}
	letters := map[string]string{}
	for _, r := range treatments {
		if r.Scope == "event:e" && r.Headline {
			letters[r.Treatment] = r.Letters
		}
	}
	if !reflect.DeepEqual(letters, map[string]string{"bare": "a", "disked": "a", "mulch": "b"}) {
		t.Errorf("letters %v", letters)
	}
	for _, r := range pairs {
		if r.PAdjusted.OK && r.PAdjusted.V < r.P.V {
			t.Errorf("%s against %s: p %v, adjusted %v", r.Treatment, r.Reference, r.P.V, r.PAdjusted.V)
		}
	}
}

// More treatments than fit into pairs are compared with the reference only.
func TestManyTreatments(t *testing.T) {
	var rows []result.PlotRow
	for k := range 14 {
		rows = append(rows, of(fmt.Sprintf("t%02d", k), "e", result.RunoffDepth, float64(k), float64(k)+1, float64(k)+2.5)...)
	}
	n := 0
	for _, r := range compare(t, rows) {
		if r.Scope == "event:e" {
			n++
			if r.Reference != "t00" || !r.Flags.Has(season.FlagReferenceOnly) {
				t.Errorf("%+v", r)
			}
		}
	}
	if n != 13 {
		t.Errorf("%d comparisons, want 13", n)
	}
}

// What bounds nothing is flagged: no interval of width zero, no NaN, no panic.
func TestDegenerateComparisons(t *testing.T) {
	right := func(rows []result.PlotRow) []result.PlotRow {
		for i := range rows {
			rows[i].Censored = result.Right
		}
		return rows
	}
	for _, tt := range []struct {
		name string
		rows []result.PlotRow
		flag string
	}{
		{"all equal", append(of("bare", "e", result.RunoffDepth, 5, 5, 5), of("mulch", "e", result.RunoffDepth, 5, 5, 5)...), "no_spread"},
		{"one replicate", append(of("bare", "e", result.SoilLoss, 5), of("mulch", "e", result.SoilLoss, 3)...), season.FlagOnePlot},
		{"all censored", append(right(of("bare", "e", result.TimeToRunoff, 30, 30)), right(of("mulch", "e", result.TimeToRunoff, 30, 30))...), "all_censored"},
		{"one side censored", append(of("bare", "e", result.TimeToRunoff, 10, 12, 14), right(of("mulch", "e", result.TimeToRunoff, 30, 30, 30))...), season.FlagLowerBound},
		{"no loss anywhere", append(of("bare", "e", result.SoilLoss, 0, 0, 0), of("mulch", "e", result.SoilLoss, 0, 0, 0)...), "no_spread"},
	} {
		r := pairOf(t, compare(t, tt.rows), "event:e", "mulch")
		if r.Low.OK && r.High.OK || !r.Flags.Has(tt.flag) {
			t.Errorf("%s: %+v, want flag %s and no interval", tt.name, r, tt.flag)
		}
	}
	if out := compare(t, of("bare", "e", result.RunoffDepth, 1, 2)); len(out) != 0 {
		t.Errorf("one treatment: %v", out)
	}
	if out := compare(t, nil); len(out) != 0 {
		t.Errorf("nothing: %v", out)
	}
}

// Whatever the plots, comparisons hold finite numbers in order, do not depend on
// the order of rows or the number of workers, and turn with the sides.
func TestComparisonProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 3))
		var rows []result.PlotRow
		for e := range 1 + r.IntN(3) {
			for k := range 1 + r.IntN(4) {
				for p := range 1 + r.IntN(4) {
					for _, m := range []result.Metric{result.TimeToRunoff, result.SteadyInfiltrationRate, result.SoilLoss, result.SedimentConcentration} {
						row := plot(fmt.Sprint("e", e), "r1", fmt.Sprint(k, ".", p), m, math.Round(10*r.ExpFloat64())/2)
						row.Treatment = fmt.Sprint("t", k)
						switch {
						case m != result.SoilLoss && row.Value.V == 0:
							row.Value, row.Flags = quantity.None(), result.Flags{"no_runoff"}
						case m != result.SoilLoss && r.IntN(4) == 0:
							row.Censored = []result.Censored{result.Right, result.Left}[r.IntN(2)]
						}
						rows = append(rows, row)
					}
				}
			}
		}
		_, a, err := season.Summarise(rows, season.Settings{Level: 0.9, Workers: 1})
		if err != nil {
			t.Fatal(err)
		}
		_, b, err := season.Summarise(rapid.Permutation(rows).Draw(t, "order"), season.Settings{Level: 0.9, Workers: 3})
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(a, b) {
			t.Fatal("the order of rows or workers matters")
		}
		for _, c := range a {
			for _, v := range []quantity.Optional{c.Value, c.Low, c.High, c.P, c.PAdjusted} {
				if v.OK && (math.IsNaN(v.V) || math.IsInf(v.V, 0)) {
					t.Fatalf("%+v", c)
				}
			}
			if c.Low.OK && c.High.OK && !(c.Low.V < c.High.V) || c.P.OK && !(c.P.V >= 0 && c.P.V <= 1) {
				t.Fatalf("%+v", c)
			}
			if !c.Value.OK && len(c.Flags) == 0 {
				t.Fatalf("no value and no reason: %+v", c)
			}
		}
	})
}
