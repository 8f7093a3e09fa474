package inference_test

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/analysis/inference"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// Comparisons of what cannot be compared: no interval and a flag, never a panic.
func TestDegenerateComparisons(t *testing.T) {
	type answer struct {
		low, high, p quantity.Optional
		flags        result.Flags
	}
	inf := math.Inf(1)
	difference := func(d inference.Difference, err error) answer {
		if err != nil {
			t.Fatal(err)
		}
		return answer{d.Low, d.High, d.P, d.Flags}
	}
	ranks := func(r inference.RankTest, err error) answer {
		if err != nil {
			t.Fatal(err)
		}
		return answer{r.Low, r.High, quantity.None(), r.Flags}
	}
	flags := func(f result.Flags, err error) answer {
		if err != nil {
			t.Fatal(err)
		}
		return answer{flags: f}
	}
	anova := func(g ...[]float64) answer {
		a, err := inference.OneWay(g)
		return answer{p: a.P, flags: mustFlags(t, a.Flags, err)}
	}
	welch := func(g ...[]float64) answer {
		a, err := inference.WelchAnova(g)
		return answer{p: a.P, flags: mustFlags(t, a.Flags, err)}
	}
	right := []inference.Bounds{{Low: 5, High: inf}, {Low: 5, High: inf}}
	seen := []inference.Bounds{{Low: 1, High: 1}, {Low: 2, High: 2}}
	for _, tt := range []struct {
		name string
		got  answer
		flag string
	}{
		{"t of none", difference(inference.StudentT(nil, []float64{1}, 0.95)), inference.FlagNoData},
		{"t of one each", difference(inference.StudentT([]float64{1}, []float64{2}, 0.95)), inference.FlagOneValue},
		{"t of equal", difference(inference.StudentT([]float64{1, 1}, []float64{1, 1}, 0.95)), inference.FlagNoSpread},
		{"censored against nothing but bounds", difference(inference.CensoredDifference(seen, right, 0.95)), inference.FlagAllCensored},
		{"censored, one of one", difference(inference.CensoredDifference(seen, []inference.Bounds{{Low: 3, High: 3}}, 0.95)), inference.FlagOneValue},
		{"censored of equal", difference(inference.CensoredRatio([]inference.Bounds{{Low: 2, High: 2}, {Low: 2, High: 2}}, []inference.Bounds{{Low: 2, High: 2}, {Low: 1, High: inf}}, 0.95)), inference.FlagNoSpread},
		{"shift of bounds", difference(inference.CensoredShift(right, 0.95)), inference.FlagAllCensored},
		{"ranks of none", ranks(inference.MannWhitney(nil, []float64{1}, 0.95)), inference.FlagNoData},
		{"ranks of equal", ranks(inference.MannWhitney([]float64{1, 1}, []float64{1, 1, 1}, 0.95)), inference.FlagNoSpread},
		{"signed ranks of equal pairs", ranks(inference.SignedRank([]float64{1, 2}, []float64{1, 2}, 0.95)), inference.FlagNoSpread},
		{"anova of one group", anova([]float64{1, 2}), inference.FlagOneGroup},
		{"anova of singles", anova([]float64{1}, []float64{2}), inference.FlagNSmall},
		{"anova of equal", anova([]float64{1, 1}, []float64{1, 1}), inference.FlagNoSpread},
		{"anova with an empty group", anova([]float64{1, 2}, nil), inference.FlagNoData},
		{"welch of singles", welch([]float64{1}, []float64{2, 3}), inference.FlagOneValue},
		{"welch of equal", welch([]float64{1, 1}, []float64{2, 3}), inference.FlagNoSpread},
	} {
		if tt.got.low.OK && tt.got.high.OK || tt.got.p.OK || !tt.got.flags.Has(tt.flag) {
			t.Errorf("%s: %+v, want flag %s", tt.name, tt.got, tt.flag)
		}
	}
	empty, err := inference.Pool(nil, nil, inference.Pooling{Tau: inference.TauREML, Level: 0.95})
	if a := flags(empty.Flags, err); !a.flags.Has(inference.FlagNoData) {
		t.Errorf("pool of none: %v", a.flags)
	}
	one, err := inference.Pool([]float64{1}, []float64{1}, inference.Pooling{Tau: inference.TauREML, HartungKnapp: true, Level: 0.95})
	if a := flags(one.Flags, err); !a.flags.Has(inference.FlagOneValue) || one.Bounded() {
		t.Errorf("pool of one: %+v", one)
	}
	m, err := inference.Mixed([]float64{1, 2, 3}, [][]float64{{1, 1, 1}}, [][]string{{"a", "b", "c"}}, 0.95)
	if err != nil || !m.Flags.Has(inference.FlagNotDefined) {
		t.Errorf("a level for each value: %+v, %v", m.Flags, err)
	}
	if b, err := inference.BlockedAnova([]float64{1, 2, 3, 4}, []string{"a", "a", "b", "b"}, []string{"x", "x", "y", "y"}, 0.95); err != nil || !b.Flags.Has(inference.FlagNotDefined) {
		t.Errorf("treatments that are blocks: %+v, %v", b.Flags, err)
	}
	if p, err := inference.PermutationLogRank([]float64{30, 30}, []bool{false, false}, []bool{true, false}, nil, 1); err != nil || !p.Flags.Has(inference.FlagAllCensored) || p.TwoSided.OK {
		t.Errorf("log-rank without events: %+v, %v", p, err)
	}
	if r, err := inference.TimeRatios(right, nil, inference.WeibullTimes, 0.95); err != nil || !r.Flags.Has(inference.FlagAllCensored) {
		t.Errorf("times without events: %+v, %v", r.Flags, err)
	}
}

func mustFlags(t *testing.T, f result.Flags, err error) result.Flags {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// What is no number is refused by the comparisons too.
func TestComparisonsRefuse(t *testing.T) {
	nan := math.NaN()
	bad, good := []float64{1, nan}, []float64{1, 2}
	for name, err := range map[string]error{
		"StudentT":          errorOf(inference.StudentT(bad, good, 0.95)),
		"MannWhitney":       errorOf(inference.MannWhitney(bad, good, 0.95)),
		"SignedRank":        errorOf(inference.SignedRank(bad, good, 0.95)),
		"PermutationTest":   errorOf(inference.PermutationTest(bad, good, 1)),
		"PairedPermutation": errorOf(inference.PairedPermutation(bad, good, 1)),
		"OneWay":            errorOf(inference.OneWay([][]float64{bad, good})),
		"WelchAnova":        errorOf(inference.WelchAnova([][]float64{bad, good})),
		"KruskalWallis":     errorOf(inference.KruskalWallis([][]float64{bad, good})),
		"EqualVariances":    errorOf(inference.EqualVariances([][]float64{bad, good})),
		"TukeyKramer":       errorOf(inference.TukeyKramer([][]float64{good, good}, 2)),
		"Dunnett":           errorOf(inference.Dunnett([][]float64{good, good}, 5, 0.95)),
		"Friedman":          errorOf(inference.Friedman([][]float64{{1, 2}, {1}})),
		"ShapiroWilk":       errorOf(inference.ShapiroWilk(bad)),
		"Adjust":            errorOf(inference.Adjust([]float64{2}, inference.Holm)),
		"Letters":           errorOf(inference.Letters(2, [][2]int{{0, 2}})),
		"Bootstrap":         errorOf(inference.Bootstrap(bad, func(y []float64) float64 { return y[0] }, 0.95, 1000, 1)),
		"Fieller":           errorOf(inference.Fieller(bad, good, true, 0.95)),
		"LogitMean":         errorOf(inference.LogitMean([]float64{0.5, 1.5}, 0.95)),
		"Pool":              errorOf(inference.Pool(good, []float64{1, 0}, inference.Pooling{Tau: inference.TauDL, Level: 0.95})),
		"Mixed":             errorOf(inference.Mixed(bad, [][]float64{{1, 1}}, [][]string{{"a", "b"}}, 0.95)),
		"BlockedAnova":      errorOf(inference.BlockedAnova(good, []string{"a"}, []string{"x", "y"}, 0.95)),
		"TimeRatios":        errorOf(inference.TimeRatios([]inference.Bounds{{Low: 0, High: 0}}, nil, inference.LognormalTimes, 0.95)),
		"CensoredShift":     errorOf(inference.CensoredShift([]inference.Bounds{{Low: 2, High: 1}}, 0.95)),
		"TheilSen":          errorOf(inference.TheilSen(bad, good, 0.95)),
		"Breakpoint":        errorOf(inference.Breakpoint(bad, good, 0.95)),
		"TSampleSize":       errorOf(inference.TSampleSize(0, 0.8, 0.05)),
		"StudentizedRange":  errorOf(inference.StudentizedRangeCDF(1, 1, 3)),
		"DunnettCDF":        errorOf(inference.DunnettCDF(1, []float64{1}, 3)),
	} {
		if !errors.Is(err, inference.ErrInput) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func errorOf[T any](_ T, err error) error { return err }

// Without censoring the censored difference is the pooled t test: estimate, limits and p.
func TestCensoredDifferenceOfObserved(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, y := sample(2, 6).Draw(t, "x"), sample(2, 6).Draw(t, "y")
		var bx, by []inference.Bounds
		for _, v := range x {
			bx = append(bx, inference.Bounds{Low: v, High: v})
		}
		for _, v := range y {
			by = append(by, inference.Bounds{Low: v, High: v})
		}
		want, err := inference.StudentT(x, y, 0.95)
		if err != nil || !want.SD.OK || want.SD.V < 1e-3 {
			return // no spread to speak of
		}
		got, err := inference.CensoredDifference(bx, by, 0.95)
		if err != nil || !got.Bounded() {
			t.Fatalf("%+v, %v", got, err)
		}
		scale := want.High.V - want.Low.V
		for _, p := range [][2]quantity.Optional{{got.Value, want.Value}, {got.Low, want.Low}, {got.High, want.High}} {
			if math.Abs(p[0].V-p[1].V) > 1e-5*scale {
				t.Fatalf("%v, want %v (%+v against %+v)", p[0].V, p[1].V, got, want)
			}
		}
		if math.Abs(got.P.V-want.P.V) > 1e-5 {
			t.Fatalf("p %v, want %v", got.P.V, want.P.V)
		}
	})
}

// Two groups in one stratum: the permutation test by log-rank scores enumerates
// the splits, so that its p is a whole number of them.
func TestPermutationLogRankCounts(t *testing.T) {
	p, err := inference.PermutationLogRank([]float64{5, 7, 9, 30, 30, 28}, []bool{true, true, true, false, false, true}, []bool{true, true, true, false, false, false}, nil, 1)
	if err != nil || p.Permutations != 20 || math.Abs(p.TwoSided.V-0.1) > 1e-12 || p.LeastP.V != 0.1 {
		t.Errorf("%+v, %v, want 20 dealings and p = 0.1", p, err)
	}
}
