package inference_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"sheetwash/analysis/inference"
	"sheetwash/analysis/quantity"
)

// The cases of testdata/reference/statistics, whose README names the source of
// every number. A folder of the same format can be read instead by naming it in
// SHEETWASH_REFERENCE.
const referenceFolder = "../../testdata/reference/statistics"

// refCase is one case of the reference files.
type refCase struct {
	ID       string         `json:"id"`
	Family   string         `json:"family"`
	Method   string         `json:"method"`
	Input    map[string]any `json:"input"`
	Options  map[string]any `json:"options"`
	Expected map[string]any `json:"expected"`
	// Tolerances are numbers by name, but for a note.
	Tolerance map[string]any `json:"tolerance"`
}

// answers are ours, by the key of what is expected. Values: float64, int,
// bool, quantity.Optional, []string, or slices of numbers or Optionals.
type answers map[string]any

// referenceMethods maps method names of the cases to our code. A method that is
// not here fails the test.
var referenceMethods = map[string]func(refCase) (answers, error){
	// descriptive, nist_univariate
	"moments":        moments,
	"summary":        summary,
	"quantile":       quantile,
	"trimmed_mean":   trimmedMean,
	"weighted_mean":  weightedMean,
	"geometric_mean": geometricMean,
	// confidence_intervals
	"mean_t":                  meanT,
	"lognormal_mean":          lognormalMean,
	"proportion":              proportion,
	"median_order_statistics": medianOrder,
	"bootstrap":               bootstrap,
	"bootstrap_exact":         bootstrapExact,
	"ratio_of_means":          ratioOfMeans,
	// censored
	"kaplan_meier": kaplanMeier,
	"log_rank":     logRank,
	"aft":          timeRatios,
	// two_groups
	"welch_t":                     welchT,
	"welch_t_log":                 welchTLog,
	"student_t":                   studentT,
	"hedges_g":                    hedgesG,
	"mann_whitney":                mannWhitney,
	"variance_ratio_f":            varianceRatio,
	"permutation_mean_difference": permutation,
	"tost":                        equivalence,
	"log_response_ratio":          responseRatio,
	// k_groups, nist_anova
	"anova_oneway":           oneWay,
	"welch_anova":            welchAnova,
	"treatment_means_ci":     meansOfGroups,
	"variance_homogeneity":   homogeneity,
	"tukey_kramer":           tukeyKramer,
	"games_howell":           gamesHowell,
	"dunnett":                dunnett,
	"kruskal_wallis_dunn":    kruskalDunn,
	"shapiro_wilk":           shapiroWilk,
	"shapiro_wilk_residuals": shapiroWilkResiduals,
	"rcbd":                   blockedAnova,
	"rcbd_missing_plot":      blockedAnovaMissing,
	"friedman":               friedman,
	"p_adjust":               adjust,
	"compact_letters":        letters,
	// rank_paired
	"paired_t":             pairedT,
	"kendall_tau_b":        kendall,
	"spearman":             spearman,
	"kendall_w":            kendallW,
	"wilcoxon_signed_rank": signedRank,
	"paired_permutation":   pairedPermutation,
	"mcnemar":              mcNemar,
	// regression, nist_linear
	"simple_linear":          simpleLinear,
	"linear_through_origin":  throughOrigin,
	"linear_least_squares":   linearLeastSquares,
	"pearson":                pearson,
	"mann_kendall_theil_sen": theilSen,
	"breakpoint_two_segment": brokenLine,
	// mixed, meta, power
	"lmm_reml_random_intercept": mixedModel,
	"random_effects_meta":       pooled,
	"leave_one_out":             leaveOneOut,
	"meta_regression":           pooledTrend,
	"t_two_sample_n":            tSampleSize,
	"t_power":                   tPower,
	"anova_n":                   anovaSampleSize,
	"replicates_from_cv":        replicatesForRatio,
	"replicates_for_precision":  replicatesForWidth,
	// distributions
	"qt":                         grid("p", "df", inference.TQuantile),
	"pt":                         grid("t", "df", inference.TCDF),
	"qf":                         grid3("p", "df1", "df2", inference.FQuantile),
	"pf_upper":                   grid3("f", "df1", "df2", inference.FUpper),
	"qchisq":                     grid("p", "df", inference.ChiSquaredQuantile),
	"pchisq_upper":               grid("x", "df", inference.ChiSquaredUpper),
	"qbeta":                      grid3("p", "a", "b", inference.BetaQuantile),
	"pbeta":                      grid3("x", "a", "b", inference.BetaCDF),
	"qnorm":                      grid1("p", inference.NormalQuantile),
	"pnorm":                      grid1("z", func(z float64) (float64, error) { return inference.NormalCDF(z), nil }),
	"ptukey":                     grid3("q", "k", "df", func(q, k, df float64) (float64, error) { return inference.StudentizedRangeCDF(q, int(k), df) }),
	"qtukey":                     grid3("p", "k", "df", func(p, k, df float64) (float64, error) { return inference.StudentizedRangeQuantile(p, int(k), df) }),
	"pdunnett_two_sided_equal_n": grid3("c", "m", "df", func(c, m, df float64) (float64, error) { return inference.DunnettCDF(c, halfCorrelated(m), df) }),
	"qdunnett_two_sided_equal_n": grid3("p", "m", "df", func(p, m, df float64) (float64, error) { return inference.DunnettQuantile(p, halfCorrelated(m), df) }),
	"pwilcox":                    grid3("u", "m", "n", func(u, m, n float64) (float64, error) { return inference.MannWhitneyCDF(u, int(m), int(n)) }),
	"psignrank":                  grid("v", "n", func(v, n float64) (float64, error) { return inference.SignedRankCDF(v, int(n)) }),
	"pt_noncentral":              grid3("t", "df", "ncp", inference.NoncentralTCDF),
	"pf_noncentral":              noncentralF,
}

// otherFamilies are families of the format that other packages answer: the
// nonlinear fits, in package fit.
var otherFamilies = []string{"infiltration_fits", "nist_nonlinear"}

func TestReferenceCases(t *testing.T) {
	folder := referenceFolder
	if other := os.Getenv("SHEETWASH_REFERENCE"); other != "" {
		folder = other
	}
	files, err := filepath.Glob(filepath.Join(folder, "*.json"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no reference cases in %s: %v", folder, err)
	}
	run := map[string]int{}
	for _, file := range files {
		for _, c := range readCases(t, file) {
			answer, ok := referenceMethods[c.Method]
			switch {
			case ok:
				run[c.Method]++
				t.Run(c.ID, func(t *testing.T) { checkCase(t, c, answer) })
			case !slices.Contains(otherFamilies, c.Family):
				t.Errorf("%s: unknown method %q", c.ID, c.Method)
			}
		}
	}
	if folder == referenceFolder {
		for m := range referenceMethods {
			if run[m] == 0 {
				t.Errorf("no reference case of method %s", m)
			}
		}
	}
}

func readCases(t *testing.T, file string) []refCase {
	t.Helper()
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var cases []refCase
	if err := json.Unmarshal(b, &cases); err != nil {
		t.Fatalf("%s: %v", file, err)
	}
	return cases
}

func checkCase(t *testing.T, c refCase, answer func(refCase) (answers, error)) {
	got, err := answer(c)
	if err != nil {
		t.Fatalf("%v", err)
	}
	for key, want := range c.Expected {
		g, ok := got[key]
		if !ok {
			t.Errorf("no answer for %s", key)
			continue
		}
		compare(t, c, key, g, want)
	}
}

func compare(t *testing.T, c refCase, key string, got, want any) {
	t.Helper()
	switch w := want.(type) {
	case []any:
		if shown, ok := got.(lettersShown); ok {
			shown.compare(t, w)
			return
		}
		g := list(got)
		if len(g) != len(w) {
			t.Errorf("%s: %d values, want %d", key, len(g), len(w))
			return
		}
		for i := range w {
			compareOne(t, c, key, fmt.Sprintf("%s[%d]", key, i), g[i], w[i])
		}
	default:
		compareOne(t, c, key, key, got, want)
	}
}

func compareOne(t *testing.T, c refCase, key, name string, got, want any) {
	t.Helper()
	switch w := want.(type) {
	case nil:
		if o, ok := got.(quantity.Optional); !ok || o.OK {
			t.Errorf("%s = %v, want none", name, got)
		}
	case bool:
		if got != w {
			t.Errorf("%s = %v, want %v", name, got, w)
		}
	case string:
		if got != w {
			t.Errorf("%s = %v, want %q", name, got, w)
		}
	case float64:
		g, ok := number(got)
		rel, abs := c.tolerance("rel", key), c.tolerance("abs", key)
		if d := math.Abs(g - w); !ok || math.IsNaN(d) || d > abs && d > rel*math.Abs(w) {
			t.Errorf("%s = %v, want %v (rel %g, abs %g; off by %.3g)", name, got, w, rel, abs, d/math.Abs(w))
		}
	}
}

// tolerance returns that of the key: rel_key or, for a part of it between
// underscores, rel_part; else rel; abs likewise. Limits of a bootstrap have monte_carlo_abs.
func (c refCase) tolerance(kind, key string) float64 {
	if m, ok := c.Tolerance["monte_carlo_abs"].(map[string]any); ok && kind == "abs" {
		if v, ok := m[key].(float64); ok {
			return v
		}
	}
	if v, ok := c.Tolerance[kind+"_"+key].(float64); ok {
		return v
	}
	for name, v := range c.Tolerance {
		part, ok := strings.CutPrefix(name, kind+"_")
		if f, isNumber := v.(float64); ok && isNumber && strings.Contains("_"+key+"_", "_"+part+"_") {
			return f
		}
	}
	v, _ := c.Tolerance[kind].(float64)
	return v
}

func number(v any) (float64, bool) {
	switch v := v.(type) {
	case float64:
		return v, true
	case int:
		return float64(v), true
	case quantity.Optional:
		return v.V, v.OK
	}
	return 0, false
}

func list(v any) []any {
	var out []any
	switch v := v.(type) {
	case []float64:
		for _, x := range v {
			out = append(out, x)
		}
	case []quantity.Optional:
		for _, x := range v {
			out = append(out, x)
		}
	case []string:
		for _, x := range v {
			out = append(out, x)
		}
	case []int:
		for _, x := range v {
			out = append(out, x)
		}
	}
	return out
}

// floats returns a list of numbers of the input.
func (c refCase) floats(key string) []float64 {
	l, _ := c.Input[key].([]any)
	out := make([]float64, len(l))
	for i, v := range l {
		out[i], _ = v.(float64)
	}
	return out
}

func (c refCase) words(key string) []string {
	l, _ := c.Input[key].([]any)
	out := make([]string, len(l))
	for i, v := range l {
		out[i] = strings.TrimSpace(fmt.Sprint(v))
	}
	return out
}

func (c refCase) events(key string) []bool {
	out := []bool{}
	for _, v := range c.floats(key) {
		out = append(out, v == 1)
	}
	return out
}

func (c refCase) option(key string) float64 {
	v, _ := c.Options[key].(float64)
	return v
}

func (c refCase) level() float64 { return c.option("conf_level") }
