package inference

import (
	"fmt"
	"math"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// Pair is a comparison of two groups, the first minus the second, with an
// adjusted p and simultaneous limits.
type Pair struct {
	First, Second int // numbers of the groups
	Difference    quantity.Optional
	SE, DF, T     quantity.Optional
	Low, High     quantity.Optional
	P             quantity.Optional // adjusted
}

// Pairwise are comparisons of all pairs of groups.
type Pairwise struct {
	Pairs    []Pair
	Critical quantity.Optional // of the statistic, where there is one for all pairs
	DF       float64
	Flags    result.Flags
}

// TukeyKramer compares all pairs of means under one variance.
//
//	d ± q(k, df)/sqrt 2 * SE,  SE = sqrt(MSW (1/n_i + 1/n_j)),  p = P(Q > sqrt 2 |d|/SE)
//
// Source: Tukey (1953); Kramer (1956), Biometrics 12:307-310. Errors: ErrInput for NaN or the level.
func TukeyKramer(groups [][]float64, level float64) (Pairwise, error) {
	var r Pairwise
	if err := checkLevel(level); err != nil {
		return r, err
	}
	a, err := OneWay(groups)
	if err != nil {
		return r, err
	}
	r.Flags = a.Flags
	if !a.F.OK {
		return r, nil
	}
	r.DF = float64(a.DFWithin)
	err = r.tukey(len(a.Means)-countMissing(a.Means), level, func(i, j int) (float64, float64, bool) {
		if !a.Means[i].OK || !a.Means[j].OK {
			return 0, 0, false
		}
		v := a.MSWithin.V * (1/float64(len(groups[i])) + 1/float64(len(groups[j])))
		return a.Means[i].V - a.Means[j].V, v, true
	}, len(groups))
	return r, err
}

func countMissing(m []quantity.Optional) int {
	n := 0
	for _, v := range m {
		if !v.OK {
			n++
		}
	}
	return n
}

// tukey fills the pairs of groups from their differences and variances.
func (r *Pairwise) tukey(k int, level float64, of func(i, j int) (difference, variance float64, ok bool), groups int) error {
	q, err := StudentizedRangeQuantile(level, k, r.DF)
	if err != nil {
		return err
	}
	r.Critical = quantity.Some(q)
	for i := range groups {
		for j := i + 1; j < groups; j++ {
			d, v, ok := of(i, j)
			if !ok {
				continue
			}
			p := Pair{First: i, Second: j, Difference: quantity.Some(d), DF: quantity.Some(r.DF)}
			p.fromRange(d, math.Sqrt(v), k, r.DF, q)
			r.Pairs = append(r.Pairs, p)
		}
	}
	return nil
}

// fromRange fills a pair from the studentized range.
func (p *Pair) fromRange(d, se float64, k int, df, q float64) {
	p.SE = quantity.Some(se)
	if !(se > 0) {
		return
	}
	p.T = quantity.Some(d / se)
	h := q / math.Sqrt2 * se
	p.Low, p.High = quantity.Some(d-h), quantity.Some(d+h)
	p.P = quantity.Some(math.Max(0, 1-studentizedRange(math.Sqrt2*math.Abs(d)/se, k, df)))
}

// GamesHowell compares all pairs of means whose variances may differ: Tukey's
// test with Welch's error and degrees of freedom for each pair.
//
// Source: Games & Howell (1976), Journal of Educational Statistics 1:113-125. Pairs
// with a group of one or without spread lack what they cannot have. Errors: ErrInput for NaN or the level.
func GamesHowell(groups [][]float64, level float64) (Pairwise, error) {
	var r Pairwise
	if err := checkLevel(level); err != nil {
		return r, err
	}
	live, err := nonEmpty(groups, &r.Flags)
	if err != nil {
		return r, err
	}
	if len(live) < 2 {
		r.Flags.Add(FlagOneGroup)
		return r, nil
	}
	for i := range groups {
		for j := i + 1; j < len(groups); j++ {
			if len(groups[i]) == 0 || len(groups[j]) == 0 {
				continue
			}
			w, err := WelchT(groups[i], groups[j], level)
			if err != nil {
				return r, err
			}
			p := Pair{First: i, Second: j, Difference: w.Value, DF: w.DF}
			r.Flags.Add(w.Flags...)
			if w.T.OK {
				q, err := StudentizedRangeQuantile(level, len(live), w.DF.V)
				if err != nil {
					return r, err
				}
				p.fromRange(w.Value.V, w.SE.V, len(live), w.DF.V, q)
			}
			r.Pairs = append(r.Pairs, p)
		}
	}
	return r, nil
}

// Dunnett compares every group with a control under one variance, the group
// minus the control.
//
//	d ± c SE,  c the two-sided quantile of the multivariate t with the correlations of the numbers
//
// Source: Dunnett (1955, 1964). Errors: ErrInput for NaN, the level or a control that is not there.
func Dunnett(groups [][]float64, control int, level float64) (Pairwise, error) {
	var r Pairwise
	if err := checkLevel(level); err != nil {
		return r, err
	}
	if control < 0 || control >= len(groups) {
		return r, fmt.Errorf("%w: control %d of %d groups", ErrInput, control, len(groups))
	}
	a, err := OneWay(groups)
	if err != nil {
		return r, err
	}
	r.Flags = a.Flags
	if !a.F.OK || len(groups[control]) == 0 {
		return r, nil
	}
	r.DF = float64(a.DFWithin)
	n0 := float64(len(groups[control]))
	var lambda []float64
	for i, g := range groups {
		if n := float64(len(g)); i != control && n > 0 {
			lambda = append(lambda, math.Sqrt(n/(n+n0)))
		}
	}
	c, err := DunnettQuantile(level, lambda, r.DF)
	if err != nil {
		return r, err
	}
	r.Critical = quantity.Some(c)
	for i, g := range groups {
		if i == control || len(g) == 0 {
			continue
		}
		d := a.Means[i].V - a.Means[control].V
		se := math.Sqrt(a.MSWithin.V * (1/float64(len(g)) + 1/n0))
		p := Pair{First: i, Second: control, Difference: quantity.Some(d), SE: quantity.Some(se), DF: quantity.Some(r.DF)}
		p.T = quantity.Some(d / se)
		p.Low, p.High = quantity.Some(d-c*se), quantity.Some(d+c*se)
		p.P = quantity.Some(math.Max(0, 1-dunnett(math.Abs(d/se), lambda, r.DF)))
		r.Pairs = append(r.Pairs, p)
	}
	return r, nil
}
