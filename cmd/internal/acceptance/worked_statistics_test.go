package acceptance

import (
	"fmt"
	"math"

	"sheetwash/analysis/analysistest"
	"sheetwash/analysis/inference"
	"sheetwash/analysis/quantity"
)

var statisticQuantities = map[string]func(example) (float64, error){
	"mean": func(e example) (float64, error) { return known(inference.Mean(e.ns("x"))) },
	"sd":   func(e example) (float64, error) { return known(inference.SD(e.ns("x"))) },
	"sem": func(e example) (float64, error) {
		d, err := inference.Describe(e.ns("x"))
		return known(d.SE, err)
	},
	"numacc":        alternating,
	"u_rectangular": func(e example) (float64, error) { return inference.URectangular(e.n("half_width")) },
	"u_triangular":  func(e example) (float64, error) { return inference.UTriangular(e.n("half_width")) },
	"u_resolution":  func(e example) (float64, error) { return inference.UResolution(e.n("step")) },
	"combined_u":    func(e example) (float64, error) { return inference.CombinedU(e.ns("u")) },
	"welch_satterthwaite": func(e example) (float64, error) {
		return known(inference.WelchSatterthwaite(e.ns("u"), e.ns("df")))
	},
	"t_quantile": func(e example) (float64, error) { return inference.TQuantile((1+e.n("p_two_sided"))/2, e.n("df")) },
	"paired_t":   func(e example) (float64, error) { return difference(e, inference.PairedT) },
	"welch_t":    func(e example) (float64, error) { return difference(e, inference.WelchT) },
	"linreg":     line,
	"nls":        curve,
	"km_survival": func(e example) (float64, error) {
		s, err := survival(e)
		return s.At(e.Optional(0, "at")).Share, err
	},
	"km_se": func(e example) (float64, error) {
		s, err := survival(e)
		return known(s.At(e.Optional(0, "at")).SE, err)
	},
	"km_median": func(e example) (float64, error) {
		s, err := survival(e)
		return known(s.Quantile(0.5).Value, err)
	},
	"logrank_chi2": logRank,
}

// alternating is the series base, then pairs of lo and hi.
func alternating(e example) (float64, error) {
	x := []float64{e.n("base")}
	for range int(e.n("pairs")) {
		x = append(x, e.n("lo"), e.n("hi"))
	}
	switch e.word("stat") {
	case "mean":
		return known(inference.Mean(x))
	case "sd":
		return known(inference.SD(x))
	case "r1", "lag1", "autocorrelation":
		return known(inference.Lag1Autocorrelation(x))
	}
	return 0, fmt.Errorf("statistic %q", e.word("stat"))
}

func difference(e example, f func(a, b []float64, level float64) (inference.Difference, error)) (float64, error) {
	d, err := f(e.ns("a"), e.ns("b"), 0.95)
	if err != nil {
		return 0, err
	}
	return pick(e.word("what"), map[string]quantity.Optional{
		"mean_diff": d.Value, "diff": d.Value, "t": d.T, "df": d.DF, "p": d.P, "lo": d.Low, "hi": d.High, "sd_diff": d.SD, "sd": d.SD, "se": d.SE,
	})
}

func line(e example) (float64, error) {
	f := inference.LinearRegression
	if !e.Bool("intercept", true) {
		f = inference.LinearThroughOrigin
	}
	l, err := f(e.ns("x"), e.ns("y"), 0.95)
	if err != nil {
		return 0, err
	}
	r := quantity.None()
	if l.RSquared.OK && l.Slope.Value.OK {
		r = quantity.Some(math.Copysign(math.Sqrt(max(0, l.RSquared.V)), l.Slope.Value.V))
	}
	return pick(e.word("what"), map[string]quantity.Optional{
		"intercept": l.Intercept.Value, "slope": l.Slope.Value, "se_slope": l.Slope.SE, "se_intercept": l.Intercept.SE, "r": r, "r2": l.RSquared,
		"r_squared": l.RSquared, "residual_sd": l.ResidualSD, "rsd": l.ResidualSD,
	})
}

// curve fits by least squares from the start of the row.
func curve(e example) (float64, error) {
	model := nonlinear[e.word("model")]
	if model == nil {
		return 0, fmt.Errorf("model %q", e.word("model"))
	}
	f, err := analysistest.Nonlinear(model, e.ns("x"), e.ns("y"), e.ns("start"))
	if err != nil {
		return 0, err
	}
	of := map[string]quantity.Optional{"rss": quantity.Some(f.RSS), "rsd": quantity.Some(f.RSD)}
	for k, b := range f.B {
		of[fmt.Sprintf("b%d", k+1)] = quantity.Some(b)
		if f.SE != nil {
			of[fmt.Sprintf("se%d", k+1)] = quantity.Some(f.SE[k])
		}
	}
	return pick(e.word("what"), of)
}

func survival(e example) (inference.Survival, error) {
	return inference.KaplanMeier(e.ns("time"), happened(e.ns("event")), 0.95)
}

func logRank(e example) (float64, error) {
	time1, time2 := e.ns("time1"), e.ns("time2")
	var group []string
	for range time1 {
		group = append(group, "1")
	}
	for range time2 {
		group = append(group, "2")
	}
	l, err := inference.LogRank(append(time1, time2...), append(happened(e.ns("event1")), happened(e.ns("event2"))...), group, 0)
	return known(l.ChiSquared, err)
}

// happened makes 1 for an event and 0 for a censored time into words of the language.
func happened(event []float64) []bool {
	out := make([]bool, len(event))
	for i, v := range event {
		out[i] = v == 1
	}
	return out
}
