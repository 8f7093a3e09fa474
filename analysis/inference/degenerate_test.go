package inference_test

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/analysis/inference"
	"sheetwash/analysis/quantity"
)

// Samples that bound nothing: the answer lacks its interval and says why.
func TestDegenerateSamples(t *testing.T) {
	type answer = inference.Interval
	survival := func(time []float64, event []bool) inference.Survival {
		s, err := inference.KaplanMeier(time, event, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	must := func(i answer, err error) answer {
		if err != nil {
			t.Fatal(err)
		}
		return i
	}
	inf := math.Inf(1)
	geometric := func(y []float64) answer {
		g, err := inference.GeometricMean(y, 0.95)
		return must(g.Interval, err)
	}
	median := func(y []float64) answer {
		m, err := inference.MedianOrder(y, 0.95)
		return must(m.Interval, err)
	}
	welch := func(x, y []float64) answer {
		d, err := inference.WelchT(x, y, 0.95)
		return must(d.Interval, err)
	}
	restricted := func(tau float64, time []float64, event []bool) answer {
		return must(survival(time, event).RestrictedMean(tau))
	}
	no, yes := []bool{false, false, false}, []bool{true, true, true}
	for _, tt := range []struct {
		name  string
		got   answer
		value bool
		flag  string
	}{
		{"mean of none", must(inference.MeanT(nil, 0.95)), false, inference.FlagNoData},
		{"mean of one", must(inference.MeanT([]float64{3}, 0.95)), true, inference.FlagOneValue},
		{"mean of equal", must(inference.MeanT([]float64{0.1, 0.1, 0.1}, 0.95)), true, inference.FlagNoSpread},
		{"mean of equal but for rounding", must(inference.MeanT([]float64{0.3, 0.1 + 0.2, 0.3}, 0.95)), true, inference.FlagNoSpread},
		{"geometric mean of none", geometric(nil), false, inference.FlagNoData},
		{"geometric mean of one", geometric([]float64{7}), true, inference.FlagOneValue},
		{"geometric mean of equal", geometric([]float64{7, 7}), true, inference.FlagNoSpread},
		{"log-normal mean of one", must(inference.LognormalMean([]float64{7}, 0.95, inference.ModifiedCox)), true, inference.FlagOneValue},
		{"log-normal mean of equal", must(inference.LognormalMean([]float64{7, 7, 7}, 0.95, inference.MOVER)), true, inference.FlagNoSpread},
		{"skewed mean of equal", must(inference.SkewedMean([]float64{7, 7, 7}, 0.95)), true, inference.FlagNoSpread},
		{"proportion of no trials", must(inference.Wilson(0, 0, 0.95)), false, inference.FlagNoData},
		{"median of none", median(nil), false, inference.FlagNoData},
		{"median of five", median([]float64{1, 2, 3, 4, 5}), true, inference.FlagNSmall},
		{"median of equal", median([]float64{2, 2, 2, 2, 2, 2}), true, inference.FlagNoSpread},
		{"difference from one", welch([]float64{1}, []float64{2, 3}), true, inference.FlagOneValue},
		{"difference of equal", welch([]float64{1, 1}, []float64{2, 2}), true, inference.FlagNoSpread},
		{"censored mean of none", must(inference.CensoredMean(nil, 0.95)), false, inference.FlagNoData},
		{"censored mean of bounds", must(inference.CensoredMean([]inference.Bounds{{Low: 1, High: inf}, {Low: 2, High: inf}}, 0.95)), false, inference.FlagAllCensored},
		{"censored mean with one value", must(inference.CensoredMean([]inference.Bounds{{Low: 1, High: 1}, {Low: 2, High: inf}}, 0.95)), false, inference.FlagFewObserved},
		{"censored mean of equal values", must(inference.CensoredMean([]inference.Bounds{{Low: 5, High: 5}, {Low: 5, High: 5}, {Low: 2, High: inf}}, 0.95)), false, inference.FlagNoSpread},
		{"intervals that all hold one value", must(inference.CensoredMean([]inference.Bounds{{Low: 4, High: 6}, {Low: 5, High: 7}, {Low: 4.5, High: 6.5}}, 0.95)), false, inference.FlagNoSpread},
		{"median time of none", survival(nil, nil).Quantile(0.5), false, inference.FlagNoData},
		{"median time without events", survival([]float64{60, 60, 60}, no).Quantile(0.5), false, inference.FlagAllCensored},
		{"median of tied times", survival([]float64{9, 9, 9}, yes).Quantile(0.5), true, inference.FlagNoUpperLimit},
		{"restricted mean of none", restricted(60, nil, nil), false, inference.FlagNoData},
		{"restricted mean without events", restricted(60, []float64{60, 60, 60}, no), true, inference.FlagAllCensored},
		{"restricted mean of tied times", restricted(60, []float64{9, 9, 9}, yes), true, inference.FlagNoSpread},
		{"restricted mean of one", restricted(60, []float64{9}, []bool{true}), true, inference.FlagOneValue},
	} {
		if tt.got.Value.OK != tt.value || tt.got.Bounded() || !tt.got.Flags.Has(tt.flag) {
			t.Errorf("%s: %+v, want value %v, no interval, flag %s", tt.name, tt.got, tt.value, tt.flag)
		}
	}
}

// What is no number is refused, in every position.
func TestRefusedInput(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	check := func(name string, err error) {
		t.Helper()
		if !errors.Is(err, inference.ErrInput) {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, bad := range []float64{nan, inf, -inf} {
		y := []float64{1, bad, 2}
		_, err := inference.Describe(y)
		check("Describe", err)
		_, err = inference.MeanT(y, 0.95)
		check("MeanT", err)
		_, err = inference.GeometricMean(y, 0.95)
		check("GeometricMean", err)
		_, err = inference.MedianOrder(y, 0.95)
		check("MedianOrder", err)
		_, err = inference.Quantile(y, 0.5, inference.Linear)
		check("Quantile", err)
		_, err = inference.TrimmedMean(y, 0.1)
		check("TrimmedMean", err)
		_, err = inference.WeightedMean([]float64{1, 1, 1}, y)
		check("WeightedMean", err)
		_, err = inference.Lag1Autocorrelation(y)
		check("Lag1Autocorrelation", err)
		_, err = inference.KaplanMeier(y, make([]bool, 3), 0.95)
		check("KaplanMeier", err)
		_, err = inference.LogRank(y, make([]bool, 3), []string{"a", "b", "a"}, 0)
		check("LogRank", err)
		_, err = inference.PairedT(y, []float64{1, 2, 3}, 0.95)
		check("PairedT", err)
		_, err = inference.WelchT([]float64{1, 2}, y, 0.95)
		check("WelchT", err)
		_, err = inference.LinearRegression([]float64{1, 2, 3}, y, 0.95)
		check("LinearRegression", err)
		_, err = inference.LinearThroughOrigin(y, []float64{1, 2, 3}, 0.95)
		check("LinearThroughOrigin", err)
		_, err = inference.Polynomial([]float64{1, 2, 3}, y, 1, true, 0.95)
		check("Polynomial", err)
		_, err = inference.MultipleRegression([][]float64{y}, []float64{1, 2, 3}, true, 0.95)
		check("MultipleRegression", err)
		_, err = inference.CombinedU(y)
		check("CombinedU", err)
		_, err = inference.URectangular(bad)
		check("URectangular", err)
		_, err = inference.MeanT([]float64{1, 2}, bad)
		check("level", err)
		_, err = inference.TQuantile(0.975, bad)
		check("degrees of freedom", err)
	}
	_, err := inference.GeometricMean([]float64{1, 0}, 0.95)
	check("a zero in a geometric mean", err)
	_, err = inference.CensoredMean([]inference.Bounds{{Low: 2, High: 1}}, 0.95)
	check("bounds the wrong way round", err)
	_, err = inference.CensoredMean([]inference.Bounds{{Low: nan, High: nan}}, 0.95)
	check("bounds of NaN", err)
	_, err = inference.KaplanMeier([]float64{-1}, []bool{true}, 0.95)
	check("a negative time", err)
	_, err = inference.KaplanMeier([]float64{1, 2}, []bool{true}, 0.95)
	check("unlike lengths", err)
	_, err = inference.Wilson(3, 2, 0.95)
	check("3 of 2", err)
	_, err = inference.WelchSatterthwaite([]float64{1}, []float64{0})
	check("no degrees of freedom", err)
	_, err = inference.CombinedU([]float64{-1})
	check("a negative uncertainty", err)
	_, err = inference.TQuantile(1, 3)
	check("probability 1", err)
}

func sample(min, max int) *rapid.Generator[[]float64] {
	return rapid.SliceOfN(rapid.Float64Range(0.001, 1000), min, max)
}

// A mean, its interval and its description don't depend on the order of values,
// follow a change of unit and a shift.
func TestMeanProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := sample(2, 30).Draw(t, "y")
		k := rapid.Float64Range(0.01, 100).Draw(t, "k")
		a, err := inference.MeanT(y, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		b, _ := inference.MeanT(rapid.Permutation(y).Draw(t, "order"), 0.95)
		scaled, moved := make([]float64, len(y)), make([]float64, len(y))
		for i, v := range y {
			scaled[i], moved[i] = k*v, v+k
		}
		c, _ := inference.MeanT(scaled, 0.95)
		d, _ := inference.MeanT(moved, 0.95)
		for _, p := range []struct {
			name      string
			got, want quantity.Optional
			by        func(float64) float64
		}{
			{"order", b.Low, a.Low, func(v float64) float64 { return v }},
			{"order", b.High, a.High, func(v float64) float64 { return v }},
			{"scale", c.Low, a.Low, func(v float64) float64 { return k * v }},
			{"scale", c.High, a.High, func(v float64) float64 { return k * v }},
			{"shift", d.Low, a.Low, func(v float64) float64 { return v + k }},
			{"shift", d.High, a.High, func(v float64) float64 { return v + k }},
		} {
			size := 1e-11 * (1 + k) * 1000 * (1 + a.High.V - a.Low.V)
			if p.got.OK && p.want.OK && math.Abs(p.got.V-p.by(p.want.V)) > size {
				t.Fatalf("%s: %v, want %v", p.name, p.got.V, p.by(p.want.V))
			}
		}
	})
}

// Without censoring the restricted mean to beyond the last time is the mean, with its
// large-sample error the standard deviation with n over sqrt n.
func TestRestrictedMeanWithoutCensoringIsTheMean(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := sample(2, 20).Draw(t, "y")
		event := make([]bool, len(y))
		for i := range event {
			event[i] = true
		}
		s, err := inference.KaplanMeier(y, event, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		r, err := s.RestrictedMean(2000)
		if err != nil {
			t.Fatal(err)
		}
		d, _ := inference.Describe(y)
		n := float64(len(y))
		if math.Abs(r.Value.V-d.Mean.V) > 1e-9*d.Mean.V || math.Abs(r.SE.V-d.SE.V*math.Sqrt((n-1)/n)) > 1e-9*d.Mean.V {
			t.Fatalf("restricted %+v, described %+v", r, d)
		}
	})
}

// More censoring at the same times never lowers the curve, and the curve falls.
func TestSurvivalProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := rapid.SliceOfN(rapid.Float64Range(1, 9), 1, 20).Draw(t, "y")
		if rapid.Bool().Draw(t, "ties") {
			for i := range y {
				y[i] = math.Round(y[i])
			}
		}
		event := make([]bool, len(y))
		for i := range event {
			event[i] = rapid.Bool().Draw(t, "event")
		}
		s, err := inference.KaplanMeier(y, event, 0.9)
		if err != nil {
			t.Fatal(err)
		}
		last := 1.0
		for _, st := range s.Steps {
			if !(st.Share <= last && st.Share >= 0) {
				t.Fatalf("share %v after %v", st.Share, last)
			}
			if st.Low.OK && !(st.Low.V < st.Share && st.Share < st.High.V && st.Low.V >= 0 && st.High.V <= 1) {
				t.Fatalf("limits %v %v of %v", st.Low.V, st.High.V, st.Share)
			}
			last = st.Share
		}
		fewer := append([]bool(nil), event...)
		i := rapid.IntRange(0, len(y)-1).Draw(t, "censor")
		fewer[i] = false
		m, _ := inference.KaplanMeier(y, fewer, 0.9)
		for k := range s.Steps {
			if m.Steps[k].Share < s.Steps[k].Share-1e-12 {
				t.Fatalf("censoring lowers the curve: %v, %v", m.Steps[k].Share, s.Steps[k].Share)
			}
		}
	})
}
