package inference_test

import (
	"sheetwash/analysis/inference"
	"sheetwash/analysis/quantity"
)

const referenceSeed = 20311

func bootstrap(c refCase) (answers, error) {
	b, err := inference.Bootstrap(c.floats("y"), statisticOf(c), c.level(), 20000, referenceSeed)
	return answers{
		"estimate": b.Value, "bca_low": b.Low, "bca_high": b.High, "percentile_low": b.PercentileLow, "percentile_high": b.PercentileHigh,
		"basic_low": b.BasicLow, "basic_high": b.BasicHigh, "boot_sd": b.SD, "jackknife_acceleration": b.Acceleration,
	}, err
}

func statisticOf(c refCase) func([]float64) float64 {
	if c.Options["statistic"] == "median" {
		return func(y []float64) float64 { m, _ := inference.Median(y); return m.V }
	}
	return func(y []float64) float64 { m, _ := inference.Mean(y); return m.V }
}

func bootstrapExact(c refCase) (answers, error) {
	b, err := inference.Bootstrap(c.floats("y"), statisticOf(c), 0.95, 20000, referenceSeed)
	low, high := b.Range()
	return answers{
		"distinct_resamples_ordered": b.Ordered, "mean": b.BootMean, "sd_population": b.SD, "q025_type7": b.Quantile(0.025),
		"q975_type7": b.Quantile(0.975), "prop_below_estimate": b.BelowEstimate, "min": low, "max": high,
	}, err
}

func ratioOfMeans(c refCase) (answers, error) {
	of := inference.Fieller
	if c.Options["variant"] == "delta" {
		of = inference.DeltaRatio
	}
	r, err := of(c.floats("numerator"), c.floats("denominator"), c.Options["variance"] == "pooled", c.level())
	return answers{
		"ratio": r.Value, "ci_low": r.Low, "ci_high": r.High, "bounded": r.Bounded(), "g": r.G, "df": r.DF, "se": r.SE,
		"log_ci_low": r.LogLow, "log_ci_high": r.LogHigh,
	}, err
}

func studentT(c refCase) (answers, error) {
	d, err := inference.StudentT(c.floats("x"), c.floats("y"), c.level())
	return answers{
		"mean_x": d.First, "mean_y": d.Second, "diff": d.Value, "t": d.T, "df": d.DF, "p": d.P, "ci_low": d.Low, "ci_high": d.High,
	}, err
}

func hedgesG(c refCase) (answers, error) {
	g, err := inference.StandardizedDifference(c.floats("x"), c.floats("y"), c.level())
	return answers{
		"d": g.D.Value, "j_exact": g.JExact, "g": g.G.Value, "j_approx": g.JApprox, "variance_large_sample": g.Variance,
		"d_ci_low": g.D.Low, "d_ci_high": g.D.High, "g_ci_low": g.G.Low, "g_ci_high": g.G.High,
	}, err
}

func rankAnswers(r inference.RankTest) answers {
	return answers{
		"u_x": r.Statistic, "v": r.Statistic, "p": r.P, "p_exact_conditional": r.Conditional, "hodges_lehmann": r.Value,
		"ci_low": r.Low, "ci_high": r.High, "achieved_conf_level": r.Attained, "min_attainable_p": r.LeastP, "n_nonzero": r.Used,
	}
}

func mannWhitney(c refCase) (answers, error) {
	r, err := inference.MannWhitney(c.floats("x"), c.floats("y"), c.level())
	return rankAnswers(r), err
}

func signedRank(c refCase) (answers, error) {
	level := c.level()
	if level == 0 {
		level = 0.95
	}
	r, err := inference.SignedRank(c.floats("before"), c.floats("after"), level)
	return rankAnswers(r), err
}

func varianceRatio(c refCase) (answers, error) {
	r, err := inference.FRatio(c.floats("x"), c.floats("y"), c.level())
	return answers{"f": r.Value, "df1": r.DF1, "df2": r.DF2, "p": r.P, "ci_low": r.Low, "ci_high": r.High}, err
}

func permutation(c refCase) (answers, error) {
	p, err := inference.PermutationTest(c.floats("x"), c.floats("y"), referenceSeed)
	return answers{"diff": p.Statistic, "permutations": p.Permutations, "p_two_sided": p.TwoSided, "p_greater": p.Greater, "p_less": p.Less}, err
}

func pairedPermutation(c refCase) (answers, error) {
	p, err := inference.PairedPermutation(c.floats("before"), c.floats("after"), referenceSeed)
	return answers{"mean_diff": p.Statistic, "flips": p.Permutations, "p_two_sided": p.TwoSided}, err
}

func equivalence(c refCase) (answers, error) {
	e, err := inference.TwoOneSided(c.floats("x"), c.floats("y"), c.option("margin_low"), c.option("margin_high"), c.option("alpha"))
	return answers{
		"p_lower": e.PLower, "p_upper": e.PUpper, "p": e.PBoth, "ci90_low": e.Low, "ci90_high": e.High, "equivalent": e.Equivalent,
	}, err
}

func responseRatio(c refCase) (answers, error) {
	r, err := inference.LogResponseRatio(c.floats("x"), c.floats("y"), c.level())
	ratio := r.Value.Map(exp)
	return answers{
		"lrr": r.Value, "variance": r.Variance, "ci_low": r.Low, "ci_high": r.High, "ratio": ratio,
		"percent_change": ratio.Map(func(v float64) float64 { return 100 * (v - 1) }),
		"lrr_delta":      r.Delta, "variance_delta": r.DeltaVariance, "geary_x": r.GearyX, "geary_y": r.GearyY,
	}, err
}

func mcNemar(c refCase) (answers, error) {
	b, _ := c.Input["b"].(float64)
	d, _ := c.Input["c"].(float64)
	m, err := inference.McNemar(int(b), int(d))
	return answers{"p_exact": m.Exact, "p_mid": m.Mid, "chisq_continuity": m.ChiSquared, "p_chisq_continuity": m.P}, err
}

func kendall(c refCase) (answers, error) {
	k, err := inference.Kendall(c.floats("x"), c.floats("y"))
	return answers{"tau_b": k.Value, "p": k.P, "p_normal_continuity": k.PContinuity, "p_exact_enumeration": k.PEnumeration}, err
}

func spearman(c refCase) (answers, error) {
	s, err := inference.Spearman(c.floats("x"), c.floats("y"))
	return answers{"rho": s.Value, "p": s.P}, err
}

func pearson(c refCase) (answers, error) {
	p, err := inference.Pearson(c.floats("x"), c.floats("y"), c.level())
	return answers{"r": p.Value, "t": p.T, "df": p.DF, "p": p.P, "ci_low": p.Low, "ci_high": p.High}, err
}

func kendallW(c refCase) (answers, error) {
	rows, _ := c.Input["ratings_rows_are_events"].([]any)
	var blocks [][]float64
	for _, r := range rows {
		var row []float64
		for _, v := range r.([]any) {
			row = append(row, v.(float64))
		}
		blocks = append(blocks, row)
	}
	f, err := inference.Friedman(blocks)
	return answers{
		"w": f.W, "w_uncorrected": f.WUncorrected, "chisq": f.ChiSquared, "df": f.DF, "p": f.P, "friedman_chisq": f.ChiSquared,
	}, err
}

func theilSen(c refCase) (answers, error) {
	r, err := inference.TheilSen(c.floats("x"), c.floats("y"), c.level())
	return answers{
		"s": r.S, "var_s": r.VarS, "z": r.Z, "p": r.P, "sen_slope": r.Value, "sen_intercept_conover": r.Intercept,
		"sen_intercept_median_residual": r.InterceptOfResiduals, "slope_ci_low_rank": r.LowRank, "slope_ci_high_rank": r.HighRank,
		"slope_ci_low": r.Low, "slope_ci_high": r.High,
	}, err
}

func brokenLine(c refCase) (answers, error) {
	b, err := inference.Breakpoint(c.floats("x"), c.floats("y"), 0.95)
	return answers{
		"breakpoint": b.Break.Value, "breakpoint_se_segmented": b.Break.SE, "intercept": b.Intercept, "slope_before": b.Before,
		"slope_after": b.After, "rss": b.RSS, "rss_no_break": b.RSSWithout,
	}, err
}

func noncentralF(c refCase) (answers, error) {
	var out []float64
	f, d1, d2, ncp := c.floats("f"), c.floats("df1"), c.floats("df2"), c.floats("ncp")
	for i := range f {
		p, err := inference.NoncentralFCDF(f[i], d1[i], d2[i], ncp[i])
		if err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	return answers{"value": out}, nil
}

func optionalInt(v quantity.Optional) quantity.Optional { return v.Map(ceil) }
