package inference

import (
	"fmt"
	"math"
	"slices"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// Anova is a one-way analysis of variance.
type Anova struct {
	DFBetween, DFWithin int
	SSBetween, SSWithin float64
	MSBetween, MSWithin quantity.Optional
	F, P                quantity.Optional
	RSquared, Omega     quantity.Optional // eta squared, and omega squared
	ResidualSD          quantity.Optional
	Means               []quantity.Optional // of the groups, in their order
	Flags               result.Flags
}

// OneWay compares the means of groups that have one variance.
//
//	SSB = sum n_g (m_g - m)²,  SSW = sum (y - m_g)²,  F = (SSB/(k-1))/(SSW/(n-k))
//	omega² = (SSB - (k-1) MSW)/(SSB + SSW + MSW)
//
// Sums are taken in two passes about a common centre, so that a large mean costs
// no digits. Empty groups are left out and flagged no_data. Source: Fisher (1925). Errors: ErrInput for NaN.
func OneWay(groups [][]float64) (Anova, error) {
	var r Anova
	live, err := nonEmpty(groups, &r.Flags)
	if err != nil {
		return r, err
	}
	for _, g := range groups {
		r.Means = append(r.Means, meanOf(g))
	}
	all := slices.Concat(live...)
	k, n := len(live), len(all)
	if k < 2 {
		r.Flags.Add(FlagOneGroup)
		return r, nil
	}
	r.DFBetween, r.DFWithin = k-1, n-k
	centre, _ := moments(all)
	for _, g := range live {
		d := meanAbout(g, centre)
		r.SSBetween += float64(len(g)) * d * d
		_, ss := moments(g)
		r.SSWithin += ss
	}
	if r.DFWithin < 1 {
		r.Flags.Add(FlagNSmall)
		return r, nil
	}
	msb, msw := r.SSBetween/float64(k-1), r.SSWithin/float64(n-k)
	r.MSBetween, r.MSWithin, r.ResidualSD = quantity.Some(msb), quantity.Some(msw), quantity.Some(math.Sqrt(msw))
	if total := r.SSBetween + r.SSWithin; total > 0 {
		r.RSquared = quantity.Some(r.SSBetween / total)
		r.Omega = quantity.Some((r.SSBetween - float64(k-1)*msw) / (total + msw))
	}
	if !spread(centre, math.Sqrt(msw)) {
		r.Flags.Add(FlagNoSpread)
		return r, nil
	}
	r.F = quantity.Some(msb / msw)
	p, err := FUpper(r.F.V, float64(r.DFBetween), float64(r.DFWithin))
	if err != nil {
		return r, err
	}
	r.P = quantity.Some(p)
	return r, nil
}

// meanAbout returns the mean of y - centre, exact where both are close.
func meanAbout(y []float64, centre float64) float64 {
	var s float64
	for _, v := range y {
		s += v - centre
	}
	return s / float64(len(y))
}

// nonEmpty checks groups and leaves out the empty ones.
func nonEmpty(groups [][]float64, flags *result.Flags) ([][]float64, error) {
	live := make([][]float64, 0, len(groups))
	for i, g := range groups {
		if err := checkFinite("group", g); err != nil {
			return nil, fmt.Errorf("group %d: %w", i, err)
		}
		if len(g) == 0 {
			flags.Add(FlagNoData)
			continue
		}
		live = append(live, g)
	}
	return live, nil
}

// WelchAnova compares the means of groups whose variances may differ.
//
//	w = n/s²,  F = sum w (m - mw)²/(k-1) / (1 + 2(k-2) A/(k²-1)),  A = sum (1 - w/W)²/(n-1)
//	df2 = (k²-1)/(3 A)
//
// Source: Welch (1951), Biometrika 38:330-336. A group of one or without spread: no
// test, flagged. Errors: ErrInput for NaN.
func WelchAnova(groups [][]float64) (WelchTest, error) {
	var r WelchTest
	live, err := nonEmpty(groups, &r.Flags)
	if err != nil {
		return r, err
	}
	k := float64(len(live))
	if k < 2 {
		r.Flags.Add(FlagOneGroup)
		return r, nil
	}
	var w, m []float64
	var total, mean float64
	for _, g := range live {
		i := meanT(g, 0.95)
		if !i.SE.OK {
			r.Flags.Add(FlagOneValue)
			return r, nil
		}
		if i.Flags.Has(FlagNoSpread) {
			r.Flags.Add(FlagNoSpread)
			return r, nil
		}
		wi := 1 / (i.SE.V * i.SE.V)
		w, m = append(w, wi), append(m, i.Value.V)
		total += wi
		mean += wi * i.Value.V
	}
	mean /= total
	var a, ss float64
	for i, g := range live {
		d := 1 - w[i]/total
		a += d * d / float64(len(g)-1)
		ss += w[i] * (m[i] - mean) * (m[i] - mean)
	}
	r.DF1, r.DF2 = k-1, (k*k-1)/(3*a)
	f := ss / (k - 1) / (1 + 2*(k-2)*a/(k*k-1))
	r.F = quantity.Some(f)
	p, err := FUpper(f, r.DF1, r.DF2)
	if err != nil {
		return r, err
	}
	r.P = quantity.Some(p)
	return r, nil
}

// WelchTest is an F test with its degrees of freedom.
type WelchTest struct {
	F, P     quantity.Optional
	DF1, DF2 float64
	Flags    result.Flags
}

// GroupMeans are means of groups with intervals from their own variance and from
// the pooled one.
type GroupMeans struct {
	Own, Pooled []Interval
	LSD         quantity.Optional // least significant difference at 5 %, for equal numbers only
	Flags       result.Flags
}

// MeansOfGroups returns the means of groups with t intervals by their own
// variance and by the pooled one, which supposes equal variances. Source: Fisher (1925).
// Errors: ErrInput for NaN or the level.
func MeansOfGroups(groups [][]float64, level float64) (GroupMeans, error) {
	var r GroupMeans
	if err := checkLevel(level); err != nil {
		return r, err
	}
	a, err := OneWay(groups)
	if err != nil {
		return r, err
	}
	r.Flags = a.Flags
	equal := len(groups) > 0
	for _, g := range groups {
		r.Own = append(r.Own, meanT(g, level))
		p := Interval{Level: level, N: len(g), Value: meanOf(g)}
		if n := float64(len(g)); n > 0 && a.F.OK {
			p.SD, p.DF = a.ResidualSD, quantity.Some(float64(a.DFWithin))
			p.SE = quantity.Some(a.ResidualSD.V / math.Sqrt(n))
			h := critical(level, p.DF.V) * p.SE.V
			p.Low, p.High = quantity.Some(p.Value.V-h), quantity.Some(p.Value.V+h)
		} else {
			p.Flags.Add(FlagNotDefined)
		}
		r.Pooled = append(r.Pooled, p)
		equal = equal && len(g) == len(groups[0])
	}
	if equal && a.F.OK {
		t := critical(0.95, float64(a.DFWithin))
		r.LSD = quantity.Some(t * math.Sqrt(2*a.MSWithin.V/float64(len(groups[0]))))
	}
	return r, nil
}
