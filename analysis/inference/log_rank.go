package inference

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// LogRankTest compares survival curves of groups.
type LogRankTest struct {
	Groups             []string // in order of first appearance
	Observed, Expected []float64
	ChiSquared, P      quantity.Optional
	DF                 int
	Flags              result.Flags
}

// LogRank tests whether the times of all groups come from one curve.
//
//	U_g = sum w(t) (d_g - d r_g/r)
//	V_gh = sum w(t)² d (r-d)/(r-1) r_g/r (delta_gh - r_h/r)
//	chi² = U' V^-1 U over all groups but one, w(t) = S(t-)^rho
//
// rho 0 is the log-rank test (Mantel 1966, Cancer Chemotherapy Reports
// 50:163-170), rho 1 Peto & Peto's; the family is Harrington & Fleming (1982), Biometrika
// 69:553-566. Observed and Expected are weighted sums. One group or no event: no
// test, with a flag. Errors: ErrInput for NaN, unlike lengths or rho < 0.
func LogRank(time []float64, event []bool, group []string, rho float64) (LogRankTest, error) {
	if err := checkTimes(time, event); err != nil {
		return LogRankTest{}, err
	}
	if err := checkLengths("time", "group", len(time), len(group)); err != nil {
		return LogRankTest{}, err
	}
	if !(rho >= 0) || math.IsInf(rho, 1) {
		return LogRankTest{}, orInput(nil, "rho", rho)
	}
	var test LogRankTest
	member := make([]int, len(group))
	for i, g := range group {
		k := slices.Index(test.Groups, g)
		if k < 0 {
			k = len(test.Groups)
			test.Groups = append(test.Groups, g)
		}
		member[i] = k
	}
	v := test.sums(time, event, member, rho)
	test.decide(v)
	return test, nil
}

// sums fills Observed and Expected and returns the covariance of their difference.
func (l *LogRankTest) sums(time []float64, event []bool, member []int, rho float64) [][]float64 {
	k := len(l.Groups)
	l.Observed, l.Expected = make([]float64, k), make([]float64, k)
	v := make([][]float64, k)
	for g := range v {
		v[g] = make([]float64, k)
	}
	atRisk := make([]float64, k)
	for _, m := range member {
		atRisk[m]++
	}
	order := byTime(time)
	share := 1.0
	for i := 0; i < len(order); {
		t, r := time[order[i]], float64(len(order)-i)
		happened, gone := make([]float64, k), make([]float64, k)
		d := 0.0
		for ; i < len(order) && time[order[i]] == t; i++ {
			gone[member[order[i]]]++
			if event[order[i]] {
				happened[member[order[i]]]++
				d++
			}
		}
		w := math.Pow(share, rho)
		for g := range k {
			l.Observed[g] += w * happened[g]
			l.Expected[g] += w * d * atRisk[g] / r
			if r > 1 {
				f := w * w * d * (r - d) / (r - 1) * atRisk[g] / r
				v[g][g] += f
				for h := range k {
					v[g][h] -= f * atRisk[h] / r
				}
			}
		}
		share *= (r - d) / r
		for g := range k {
			atRisk[g] -= gone[g]
		}
	}
	return v
}

// decide solves for chi-squared over the groups that were at risk at an event.
func (l *LogRankTest) decide(v [][]float64) {
	var live []int
	for g, e := range l.Expected {
		if e > 0 {
			live = append(live, g)
		}
	}
	switch {
	case len(l.Groups) == 0:
		l.Flags.Add(FlagNoData)
		return
	case len(l.Groups) == 1:
		l.Flags.Add(FlagOneGroup)
		return
	case len(live) == 0:
		l.Flags.Add(FlagAllCensored)
		return
	case len(live) == 1:
		l.Flags.Add(FlagNotDefined)
		return
	}
	live = live[1:]
	m, u := mat.NewSymDense(len(live), nil), mat.NewVecDense(len(live), nil)
	for i, g := range live {
		u.SetVec(i, l.Observed[g]-l.Expected[g])
		for j, h := range live[i:] {
			m.SetSym(i, i+j, v[g][h])
		}
	}
	var c mat.Cholesky
	x := mat.NewVecDense(len(live), nil)
	if !c.Factorize(m) || c.SolveVecTo(x, u) != nil {
		l.Flags.Add(FlagNotDefined)
		return
	}
	l.DF = len(live)
	l.ChiSquared = quantity.Some(mat.Dot(u, x))
	if p, err := ChiSquaredUpper(max(0, l.ChiSquared.V), float64(l.DF)); err == nil {
		l.P = quantity.Some(p)
	}
}
