package inference_test

import (
	"fmt"

	"sheetwash/analysis/inference"
	"sheetwash/analysis/quantity"
)

func moments(c refCase) (answers, error) {
	d, err := inference.Describe(c.floats("y"))
	return answers{
		"n": d.N, "mean": d.Mean, "variance": d.Variance, "sd": d.SD, "se": d.SE, "cv": d.CV, "min": d.Min, "max": d.Max,
		"median": d.Median, "iqr_type7": d.IQR, "mad_scaled": d.MAD,
	}, err
}

func summary(c refCase) (answers, error) {
	d, err := inference.Describe(c.floats("y"))
	if err != nil {
		return nil, err
	}
	r, err := inference.Lag1Autocorrelation(c.floats("y"))
	return answers{"n": d.N, "mean": d.Mean, "sd": d.SD, "lag1_autocorrelation": r}, err
}

func quantile(c refCase) (answers, error) {
	var q []quantity.Optional
	for _, p := range c.floats("p") {
		v, err := inference.Quantile(c.floats("y"), p, inference.QuantileType(c.option("type")))
		if err != nil {
			return nil, err
		}
		q = append(q, v)
	}
	return answers{"q": q}, nil
}

func trimmedMean(c refCase) (answers, error) {
	m, err := inference.TrimmedMean(c.floats("y"), c.option("trim_each_side"))
	return answers{"mean": m}, err
}

func weightedMean(c refCase) (answers, error) {
	m, err := inference.WeightedMean(c.floats("y"), c.floats("weight"))
	return answers{"mean": m}, err
}

func geometricMean(c refCase) (answers, error) {
	g, err := inference.GeometricMean(c.floats("y"), c.level())
	return answers{"mean": g.Value, "gsd": g.GSD, "ci_low": g.Low, "ci_high": g.High, "cv_lognormal": g.CV}, err
}

func meanT(c refCase) (answers, error) {
	i, err := inference.MeanT(c.floats("y"), c.level())
	return answers{"mean": i.Value, "ci_low": i.Low, "ci_high": i.High, "df": i.DF}, err
}

func lognormalMean(c refCase) (answers, error) {
	i, err := inference.LognormalMean(c.floats("y"), c.level(), inference.LognormalVariant(fmt.Sprint(c.Options["variant"])))
	return answers{"mean": i.Value, "ci_low": i.Low, "ci_high": i.High}, err
}

func proportion(c refCase) (answers, error) {
	x, _ := c.Input["x"].(float64)
	n, _ := c.Input["n"].(float64)
	w, err := inference.Wilson(int(x), int(n), c.level())
	if err != nil {
		return nil, err
	}
	e, err := inference.ClopperPearson(int(x), int(n), c.level())
	return answers{
		"estimate": w.Value, "wilson_low": w.Low, "wilson_high": w.High,
		"clopper_pearson_low": e.Low, "clopper_pearson_high": e.High,
	}, err
}

func medianOrder(c refCase) (answers, error) {
	m, err := inference.MedianOrder(c.floats("y"), c.level())
	rank := func(k int) quantity.Optional { return quantity.Optional{V: float64(k), OK: k > 0} }
	return answers{
		"median": m.Value, "ci_low": m.Low, "ci_high": m.High, "achieved_coverage": m.Attained,
		"rank_low": rank(m.RankLow), "rank_high": rank(m.RankHigh), "max_possible_coverage": m.MaxAttained,
		"attainable": m.Bounded(),
	}, err
}

func kaplanMeier(c refCase) (answers, error) {
	s, err := inference.KaplanMeier(c.floats("time"), c.events("event"), c.level())
	if err != nil {
		return nil, err
	}
	var time, share []float64
	var atRisk, events []int
	var se, low, high, lowLog, highLog []quantity.Optional
	for _, st := range s.Steps {
		time, share = append(time, st.Time), append(share, st.Share)
		atRisk, events = append(atRisk, st.AtRisk), append(events, st.Events)
		se, low, high = append(se, st.SE), append(low, st.Low), append(high, st.High)
		lowLog, highLog = append(lowLog, st.LowLog), append(highLog, st.HighLog)
	}
	a := answers{
		"time": time, "at_risk": atRisk, "events": events, "survival": share, "greenwood_se": se,
		"ci_low_loglog": low, "ci_high_loglog": high, "ci_low_log": lowLog, "ci_high_log": highLog,
	}
	var p []float64
	var q, ql, qh []quantity.Optional
	for _, v := range c.Expected["quantiles_p"].([]any) {
		p = append(p, v.(float64))
		i := s.Quantile(v.(float64))
		q, ql, qh = append(q, i.Value), append(ql, i.Low), append(qh, i.High)
	}
	a["quantiles_p"], a["quantiles"], a["quantile_ci_low"], a["quantile_ci_high"] = p, q, ql, qh
	tau := c.Expected["rmean_tau"].(float64)
	m, err := s.RestrictedMean(tau)
	a["rmean"], a["rmean_se"], a["rmean_tau"] = m.Value, m.SE, tau
	return a, err
}

func logRank(c refCase) (answers, error) {
	l, err := inference.LogRank(c.floats("time"), c.events("event"), c.words("group"), 0)
	if err != nil {
		return nil, err
	}
	p, err := inference.LogRank(c.floats("time"), c.events("event"), c.words("group"), 1)
	return answers{
		"groups": l.Groups, "observed": l.Observed, "expected": l.Expected, "chisq": l.ChiSquared, "df": l.DF, "p": l.P,
		"chisq_peto": p.ChiSquared, "p_peto": p.P,
	}, err
}

func welchT(c refCase) (answers, error) {
	d, err := inference.WelchT(c.floats("x"), c.floats("y"), c.level())
	return answers{
		"mean_x": d.First, "mean_y": d.Second, "diff": d.Value, "t": d.T, "df": d.DF, "p": d.P,
		"ci_low": d.Low, "ci_high": d.High,
	}, err
}

func welchTLog(c refCase) (answers, error) {
	d, err := inference.WelchTLog(c.floats("x"), c.floats("y"), c.level())
	return answers{
		"ratio_geometric_means": d.Value, "ci_low": d.Low, "ci_high": d.High, "t": d.T, "df": d.DF, "p": d.P,
	}, err
}

func pairedT(c refCase) (answers, error) {
	d, err := inference.PairedT(c.floats("before"), c.floats("after"), c.level())
	dz := quantity.None()
	if d.SD.OK && d.SD.V > 0 {
		dz = quantity.Some(d.Value.V / d.SD.V)
	}
	return answers{
		"mean_diff": d.Value, "sd_diff": d.SD, "t": d.T, "df": d.DF, "p": d.P, "ci_low": d.Low, "ci_high": d.High, "dz": dz,
	}, err
}

func simpleLinear(c refCase) (answers, error) {
	l, err := inference.LinearRegression(c.floats("x"), c.floats("y"), c.level())
	if err != nil {
		return nil, err
	}
	var x0 []float64
	var fit, ml, mh, pl, ph []quantity.Optional
	for _, v := range c.Expected["x0"].([]any) {
		x0 = append(x0, v.(float64))
		m, p := l.Predict(v.(float64))
		fit, ml, mh = append(fit, m.Value), append(ml, m.Low), append(mh, m.High)
		pl, ph = append(pl, p.Low), append(ph, p.High)
	}
	return answers{
		"intercept": l.Intercept.Value, "slope": l.Slope.Value, "se": []quantity.Optional{l.Intercept.SE, l.Slope.SE},
		"t_slope": l.Slope.T, "p_slope": l.Slope.P, "slope_ci": []quantity.Optional{l.Slope.Low, l.Slope.High},
		"intercept_ci": []quantity.Optional{l.Intercept.Low, l.Intercept.High}, "r_squared": l.RSquared,
		"residual_sd": l.ResidualSD, "x0": x0, "fit": fit, "mean_ci_low": ml, "mean_ci_high": mh, "pred_low": pl, "pred_high": ph,
	}, nil
}

func throughOrigin(c refCase) (answers, error) {
	l, err := inference.LinearThroughOrigin(c.floats("x"), c.floats("y"), 0.95)
	return answers{"slope": l.Slope.Value, "se": l.Slope.SE, "residual_sd": l.ResidualSD, "r_squared_uncentred": l.RSquared}, err
}

func linearLeastSquares(c refCase) (answers, error) {
	intercept, _ := c.Options["intercept"].(bool)
	var r inference.Regression
	var err error
	if c.Options["model"] == "polynomial" {
		r, err = inference.Polynomial(c.floats("x"), c.floats("y"), int(c.option("degree")), intercept, 0.95)
	} else {
		var columns [][]float64
		rows, _ := c.Input["x"].([]any)
		for _, row := range rows {
			for j, v := range row.([]any) {
				if j == len(columns) {
					columns = append(columns, nil)
				}
				columns[j] = append(columns[j], v.(float64))
			}
		}
		r, err = inference.MultipleRegression(columns, c.floats("y"), intercept, 0.95)
	}
	var b, se []quantity.Optional
	for _, t := range r.Terms {
		b, se = append(b, t.Value), append(se, t.SE)
	}
	return answers{
		"coefficients": b, "std_errors": se, "residual_sd": r.ResidualSD, "r_squared": r.RSquared,
		"df_regression": r.DFModel, "ss_regression": r.SSModel, "f": r.F, "df_residual": r.DFError, "ss_residual": r.SSError,
	}, err
}

func grid1(a string, f func(float64) (float64, error)) func(refCase) (answers, error) {
	return grid3(a, "", "", func(x, _, _ float64) (float64, error) { return f(x) })
}

func grid(a, b string, f func(x, y float64) (float64, error)) func(refCase) (answers, error) {
	return grid3(a, b, "", func(x, y, _ float64) (float64, error) { return f(x, y) })
}

func grid3(a, b, d string, f func(x, y, z float64) (float64, error)) func(refCase) (answers, error) {
	return func(c refCase) (answers, error) {
		x, y, z := c.floats(a), c.floats(b), c.floats(d)
		at := func(s []float64, i int) float64 {
			if i < len(s) {
				return s[i]
			}
			return 0
		}
		var out []float64
		for i := range x {
			v, err := f(x[i], at(y, i), at(z, i))
			if err != nil {
				return nil, err
			}
			out = append(out, v)
		}
		return answers{"value": out}, nil
	}
}
