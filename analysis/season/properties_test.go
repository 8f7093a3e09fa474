package season_test

import (
	"fmt"
	"math"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/analysis/season"
)

// anySeason draws rows as plots give them, degenerate ones often.
func anySeason() *rapid.Generator[[]result.PlotRow] {
	metrics := []result.Metric{result.TimeToRunoff, result.SteadyInfiltrationRate, result.RunoffDepth, result.SoilLoss, result.SedimentConcentration, result.RunoffCoefficient}
	return rapid.Custom(func(t *rapid.T) []result.PlotRow {
		var rows []result.PlotRow
		coarse := rapid.Bool().Draw(t, "coarse")
		for e := range rapid.IntRange(1, 5).Draw(t, "events") {
			crew, dated := rapid.SampledFrom([]string{"amber", "slate", "teal", ""}).Draw(t, "crew"), rapid.IntRange(0, 5).Draw(t, "dated") > 0
			for p := range rapid.IntRange(1, 6).Draw(t, "plots") {
				treatment := rapid.SampledFrom([]string{"bare", "mulch"}).Draw(t, "treatment")
				run := fmt.Sprint("r", rapid.IntRange(1, 2).Draw(t, "run"))
				soil := rapid.SampledFrom([]string{"", "", "A", "B"}).Draw(t, "soil")
				for _, m := range metrics {
					v := float64(rapid.IntRange(1, 10000).Draw(t, "value")) / 100
					if coarse {
						v = math.Ceil(v / 25)
					}
					r := plot(fmt.Sprint("e", e), run, fmt.Sprint("p", p), m, v, errorsOf(v/20, v/40))
					r.Treatment, r.ExperimentalUnit, r.Dataset = treatment, soil, fmt.Sprint("d", e)
					r.Crew, r.Simulator, r.Day = crew, "trailer", quantity.Optional{V: 20000 + 9*float64(e), OK: dated}
					switch rapid.IntRange(0, 9).Draw(t, "kind") {
					case 0:
						r.Value, r.U = quantity.None(), quantity.None()
					case 1, 2:
						r.Censored = result.Right
					case 3:
						if m != result.TimeToRunoff {
							r.Censored = result.Left
						}
					case 4:
						r.U = quantity.None()
					case 5:
						if m == result.SoilLoss {
							r.Value = quantity.Some(0)
						}
					case 6:
						r.Method = "first_bottle"
					}
					rows = append(rows, r)
				}
			}
		}
		return rows
	})
}

func TestOrderOfReplicatesDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := anySeason().Draw(t, "rows")
		a, err := season.Treatments(rows, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		b, err := season.Treatments(rapid.Permutation(rows).Draw(t, "order"), 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(a, b) {
			for i := range a {
				if !reflect.DeepEqual(a[i], b[i]) {
					t.Fatalf("%+v\n%+v", a[i], b[i])
				}
			}
			t.Fatal("unlike rows")
		}
	})
}

// No answer is NaN, none bounds a value at width zero, none leaves its value
// out, and what is missing has a reason.
func TestAnswersAreHonest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := anySeason().Draw(t, "rows")
		level := rapid.SampledFrom([]float64{0.5, 0.9, 0.95, 0.99}).Draw(t, "level")
		out, err := season.Treatments(rows, level)
		if err != nil {
			t.Fatal(err)
		}
		heads := map[string]int{}
		for _, r := range out {
			for _, v := range []quantity.Optional{r.Value, r.Low, r.High, r.SDBetween, r.UMeasurement} {
				if v.OK && (math.IsNaN(v.V) || math.IsInf(v.V, 0)) {
					t.Fatalf("%+v", r)
				}
			}
			switch {
			case r.Low.OK && r.High.OK && !(r.Low.V < r.High.V):
				t.Fatalf("interval of width zero: %+v", r)
			case r.Value.OK && r.Low.OK && r.Value.V < r.Low.V, r.Value.OK && r.High.OK && r.Value.V > r.High.V:
				t.Fatalf("value outside its interval: %+v", r)
			case len(r.Flags) == 0 && !(r.Value.OK && r.Low.OK && r.High.OK):
				t.Fatalf("missing without a reason: %+v", r)
			case r.NPlots < 1 && r.Value.OK:
				t.Fatalf("value of nothing: %+v", r)
			}
			if r.Headline {
				heads[r.Scope+"/"+r.Treatment+"/"+string(r.Metric)]++
			}
		}
		for k, n := range heads {
			if n != 1 {
				t.Fatalf("%d headline rows of %s", n, k)
			}
		}
	})
}

// No comparison is NaN, has limits out of order, a value outside them or nothing without a reason;
// in seasons with crews, dates, soil that stood under several runs, and rain that all plots of an event share.
func TestComparisonsAreHonest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := anySeason().Draw(t, "rows")
		same := rapid.IntRange(1, 3).Draw(t, "rains") // of how many kinds
		for i := range rows {
			if r := &rows[i]; r.Metric == result.RunoffDepth {
				rain := *r
				rain.Metric, rain.Censored = result.RainDepth, result.Observed
				rain.Value = quantity.Some(30 + 5*float64(len(r.Event)+int(r.Event[1])%5) + float64(int(r.Run[1])%same))
				rows = append(rows, rain)
			}
		}
		_, out, err := season.Summarise(rows, season.Settings{Level: 0.95})
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range out {
			for _, v := range []quantity.Optional{r.Value, r.Low, r.High, r.P, r.PAdjusted} {
				if v.OK && (math.IsNaN(v.V) || math.IsInf(v.V, 0)) {
					t.Fatalf("%+v", r)
				}
			}
			const most = 1e5 // of values up to 100
			switch {
			case r.Low.OK && r.High.OK && !(r.Low.V < r.High.V):
				t.Fatalf("limits of no order: %+v", r)
			case r.Value.OK && !r.Flags.Has(season.FlagPrediction) && (r.Low.OK && r.Value.V < r.Low.V || r.High.OK && r.Value.V > r.High.V):
				t.Fatalf("value outside its interval: %+v", r)
			case r.P.OK && !(r.P.V >= 0 && r.P.V <= 1), r.PAdjusted.OK && !(r.PAdjusted.V >= r.P.V && r.PAdjusted.V <= 1):
				t.Fatalf("p: %+v", r)
			case len(r.Flags) == 0 && !(r.Value.OK && r.Low.OK && r.High.OK):
				t.Fatalf("missing without a reason: %+v", r)
			case r.Effect == "difference" && r.Low.OK && r.High.OK && r.High.V-r.Low.V > most:
				t.Fatalf("an interval that says nothing: %+v", r)
			}
		}
	})
}

// Values in another unit give the same statements in that unit.
func TestScaling(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := anySeason().Draw(t, "rows")
		const k = 8 // a power of two: the scaled input is exact
		scaled := make([]result.PlotRow, len(rows))
		for i, r := range rows {
			for _, v := range []*quantity.Optional{&r.Value, &r.U, &r.UShared} {
				v.V *= k
			}
			scaled[i] = r
		}
		a, _ := season.Treatments(rows, 0.95)
		b, _ := season.Treatments(scaled, 0.95)
		if len(a) != len(b) {
			t.Fatalf("%d and %d rows", len(a), len(b))
		}
		for i := range a {
			for _, v := range [][2]quantity.Optional{{a[i].Value, b[i].Value}, {a[i].Low, b[i].Low}, {a[i].High, b[i].High}, {a[i].SDBetween, b[i].SDBetween}, {a[i].UMeasurement, b[i].UMeasurement}} {
				if v[0].OK != v[1].OK || math.Abs(v[1].V-k*v[0].V) > 1e-6*math.Abs(v[1].V)+1e-9 {
					t.Fatalf("%+v\n%+v", a[i], b[i])
				}
			}
		}
	})
}

// A constant added to all values moves a mean and its limits, and nothing else.
func TestShift(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := rapid.SliceOfN(rapid.Float64Range(0, 100), 2, 8).Draw(t, "values")
		by := rapid.Float64Range(-50, 50).Draw(t, "by")
		moved := make([]float64, len(y))
		for i := range y {
			moved[i] = y[i] + by
		}
		a, _ := season.Treatments(plots("e", result.RunoffDepth, y...), 0.95)
		b, _ := season.Treatments(plots("e", result.RunoffDepth, moved...), 0.95)
		for i := range a {
			for _, v := range [][2]quantity.Optional{{a[i].Value, b[i].Value}, {a[i].Low, b[i].Low}, {a[i].High, b[i].High}} {
				if v[0].OK && v[1].OK && math.Abs(v[1].V-v[0].V-by) > 1e-9*(1+math.Abs(a[i].SDBetween.V)*20) {
					t.Fatalf("%+v\n%+v", a[i], b[i])
				}
			}
		}
	})
}
