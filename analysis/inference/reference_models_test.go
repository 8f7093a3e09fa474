package inference_test

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"sheetwash/analysis/inference"
	"sheetwash/analysis/quantity"
)

func exp(v float64) float64 { return math.Exp(v) }

func ceil(v float64) float64 { return math.Ceil(v) }

// dummies returns a column for each label but the first one.
func dummies(labels, levels []string) [][]float64 {
	var out [][]float64
	for _, l := range levels[min(1, len(levels)):] {
		column := make([]float64, len(labels))
		for i, v := range labels {
			if v == l {
				column[i] = 1
			}
		}
		out = append(out, column)
	}
	return out
}

// levelsFrom lists labels by first appearance, the baseline first.
func levelsFrom(labels []string, baseline string) []string {
	out := []string{}
	if baseline != "" {
		out = append(out, baseline)
	}
	for _, l := range labels {
		if !slices.Contains(out, l) {
			out = append(out, l)
		}
	}
	return out
}

func timeRatios(c refCase) (answers, error) {
	var times []inference.Bounds
	for i, t := range c.floats("time") {
		b := inference.Bounds{Low: t, High: t}
		if !c.events("event")[i] {
			b.High = math.Inf(1)
		}
		times = append(times, b)
	}
	labels := c.words("group")
	if len(labels) == 0 || c.Options["baseline"] == nil {
		labels = make([]string, len(times))
	}
	baseline := ""
	if b := c.Options["baseline"]; b != nil {
		baseline = fmt.Sprint(b)
	}
	levels := levelsFrom(labels, baseline)
	law := inference.TimeLaw(fmt.Sprint(c.Options["dist"]))
	columns := dummies(labels, levels)
	r, err := inference.TimeRatios(times, columns, law, c.level())
	if err != nil {
		return nil, err
	}
	null, err := inference.TimeRatios(times, nil, law, c.level())
	names := []string{"(Intercept)"}
	for _, l := range levels[1:] {
		names = append(names, "g"+l)
	}
	var b, se, ratio, low, high, median []quantity.Optional
	for j, k := range r.Coefficients {
		b, se = append(b, k.Value), append(se, k.SE)
		row := make([]float64, len(columns))
		if j > 0 {
			ratio, low, high = append(ratio, k.Value.Map(exp)), append(low, k.Low.Map(exp)), append(high, k.High.Map(exp))
			row[j-1] = 1
		}
		median = append(median, r.Median(row))
	}
	return answers{
		"coef_names": names, "coef": b, "se": se, "log_scale": r.LogScale.Value, "log_scale_se": r.LogScale.SE,
		"scale": r.LogScale.Value.Map(exp), "loglik": r.LogLikelihood, "median": median, "aic": r.AIC,
		"time_ratios": ratio, "time_ratio_ci_low": low, "time_ratio_ci_high": high,
		"lr_chisq": quantity.Some(2 * (r.LogLikelihood.V - null.LogLikelihood.V)),
	}, err
}

func mixedModel(c refCase) (answers, error) {
	y := c.floats("y")
	columns := [][]float64{ones(len(y))}
	terms := map[string][]int{}
	names, _ := c.Expected["fixed_names"].([]any)
	fTerms, _ := c.Expected["f_terms"].([]any)
	if _, ok := c.Input["x"]; ok {
		columns = append(columns, c.floats("x"))
		terms[fmt.Sprint(fTerms[0])] = []int{1}
	}
	if _, ok := c.Input["treatment"]; ok {
		term := fmt.Sprint(fTerms[len(fTerms)-1])
		labels := c.words("treatment")
		var levels []string // in the order of the coefficients
		for _, n := range names {
			if l, ok := strings.CutPrefix(fmt.Sprint(n), term); ok {
				levels = append(levels, l)
			}
		}
		for _, l := range levelsFrom(labels, "") {
			if !slices.Contains(levels, l) {
				levels = append([]string{l}, levels...)
			}
		}
		for _, d := range dummies(labels, levels) {
			terms[term] = append(terms[term], len(columns))
			columns = append(columns, d)
		}
	}
	m, err := inference.Mixed(y, columns, [][]string{c.words("group")}, 0.95)
	if err != nil || len(m.Fixed) == 0 {
		return answers{}, err
	}
	var b, se, df, p, seKR, dfKR []quantity.Optional
	for j, k := range m.Fixed {
		b, se, df, p = append(b, k.Value), append(se, k.SE), append(df, m.DF[j]), append(p, k.P)
		l := make([]float64, len(m.Fixed))
		l[j] = 1
		kr, krDF := m.KenwardRoger(l)
		seKR, dfKR = append(seKR, kr.SE), append(dfKR, krDF)
	}
	var fNames []string
	var f, d1, d2, fp []quantity.Optional
	for _, t := range fTerms {
		var l [][]float64
		for _, j := range terms[fmt.Sprint(t)] {
			row := make([]float64, len(m.Fixed))
			row[j] = 1
			l = append(l, row)
		}
		w := m.JointTest(l)
		fNames = append(fNames, fmt.Sprint(t))
		f, d1, d2, fp = append(f, w.F), append(d1, quantity.Some(w.DF1)), append(d2, quantity.Some(w.DF2)), append(fp, w.P)
	}
	var fixedNames []string
	for _, n := range names {
		fixedNames = append(fixedNames, fmt.Sprint(n))
	}
	var blups []float64
	var levels []string
	wanted, _ := c.Expected["blup_levels"].([]any)
	for _, l := range wanted {
		levels = append(levels, fmt.Sprint(l))
		blups = append(blups, m.Effects[0][slices.Index(m.Levels[0], fmt.Sprint(l))])
	}
	g, e := m.Variances[0].Value.V, m.Variances[1].Value.V
	return answers{
		"fixed_names": fixedNames, "fixed": b, "se": se, "df_satterthwaite": df, "p_satterthwaite": p,
		"se_kenward_roger": seKR, "df_kenward_roger": dfKR, "var_group": g, "var_residual": e, "icc": g / (g + e),
		"reml_deviance": m.Deviance, "ml_deviance": m.MLDeviance, "singular": m.Singular, "blup_levels": levels, "blups": blups,
		"f_terms": fNames, "f": f, "f_num_df": d1, "f_den_df": d2, "f_p": fp,
	}, nil
}

func ones(n int) []float64 {
	v := make([]float64, n)
	for i := range v {
		v[i] = 1
	}
	return v
}

func pooling(c refCase) inference.Pooling {
	floor, _ := c.Options["hk_floor"].(bool)
	level := c.level()
	if level == 0 {
		level = 0.95
	}
	return inference.Pooling{
		Tau: inference.TauMethod(fmt.Sprint(c.Options["tau2_method"])), HartungKnapp: c.Options["test"] == "knha", Floor: floor, Level: level,
		// Where the source solves for tau², it stops at the fourth root of the rounding unit.
		RootTolerance: math.Pow(0x1p-52, 0.25),
	}
}

func pooled(c refCase) (answers, error) {
	p, err := inference.Pool(c.floats("yi"), c.floats("vi"), pooling(c))
	return answers{
		"estimate": p.Value, "se": p.SE, "stat": p.Statistic, "p": p.P, "ci_low": p.Low, "ci_high": p.High, "tau2": p.Tau2,
		"q": p.Q, "q_df": p.QDF, "q_p": p.QP, "i2_percent": p.I2, "h2": p.H2, "pi_low": p.PredictLow, "pi_high": p.PredictHigh,
		"tau2_ci_low_qprofile": p.TauLow, "tau2_ci_high_qprofile": p.TauHigh,
	}, err
}

func leaveOneOut(c refCase) (answers, error) {
	all, err := inference.LeaveOneOut(c.floats("yi"), c.floats("vi"), pooling(c))
	var b, low, high, tau []quantity.Optional
	for _, p := range all {
		b, low, high, tau = append(b, p.Value), append(low, p.Low), append(high, p.High), append(tau, p.Tau2)
	}
	return answers{"estimates": b, "ci_low": low, "ci_high": high, "tau2": tau}, err
}

func pooledTrend(c refCase) (answers, error) {
	r, err := inference.PoolTrend(c.floats("yi"), c.floats("vi"), c.floats("x"), false, 0.95)
	return answers{
		"intercept": r.Intercept.Value, "slope": r.Slope.Value, "se": []quantity.Optional{r.Intercept.SE, r.Slope.SE},
		"tau2": r.Tau2, "qm": r.QM, "qm_p": r.QMP, "qe": r.QE,
	}, err
}

// in returns a number of the input.
func (c refCase) in(key string) float64 {
	v, _ := c.Input[key].(float64)
	return v
}

func tSampleSize(c refCase) (answers, error) {
	n, err := inference.TSampleSize(c.in("d"), c.in("power"), c.in("alpha"))
	return answers{"n_per_group_real": n, "n_per_group": optionalInt(n)}, err
}

func tPower(c refCase) (answers, error) {
	n, d, alpha := c.in("n_per_group"), c.in("d"), c.in("alpha")
	two, err := inference.TPower(n, d, alpha)
	if err != nil {
		return nil, err
	}
	paired, err := inference.PairedTPower(n, d, alpha)
	if err != nil {
		return nil, err
	}
	least, err := inference.DetectableDifference(n, 0.8, alpha)
	return answers{"power_two_sample": two, "power_paired": paired, "mdes_80_two_sample": least}, err
}

func anovaSampleSize(c refCase) (answers, error) {
	k := int(c.in("k"))
	n, err := inference.AnovaSampleSize(k, c.in("f"), c.in("power"), c.in("alpha"))
	if err != nil {
		return nil, err
	}
	p, err := inference.AnovaPower(k, 4, c.in("f"), c.in("alpha"))
	return answers{"n_per_group_real": n, "n_per_group": optionalInt(n), "power_at_4": p}, err
}

func replicatesForRatio(c refCase) (answers, error) {
	r, err := inference.ReplicatesForRatio(c.in("cv"), c.in("relative_difference"), c.in("power"), c.in("alpha"))
	return answers{
		"n_normal_real": r.Normal, "n_normal": optionalInt(r.Normal), "n_t_real": r.T, "n_t": optionalInt(r.T),
		"n_log_t_real": r.LogT, "n_log_t": optionalInt(r.LogT),
	}, err
}

func replicatesForWidth(c refCase) (answers, error) {
	n, h, err := inference.ReplicatesForWidth(c.in("cv"), c.in("relative_half_width"), c.in("conf_level"))
	return answers{"n": n, "half_width_at_n": h}, err
}
