package inference

import (
	"math"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// Homogeneity holds tests of equal variances.
type Homogeneity struct {
	Levene, BrownForsythe WelchTest // about the means, about the medians
	Bartlett, Fligner     ChiTest
	Flags                 result.Flags
}

// ChiTest is a chi-squared test.
type ChiTest struct {
	ChiSquared, P quantity.Optional
	DF            int
}

func chiTest(x float64, df int) ChiTest {
	p, err := ChiSquaredUpper(math.Max(0, x), float64(df))
	if err != nil {
		return ChiTest{}
	}
	return ChiTest{ChiSquared: quantity.Some(x), P: quantity.Some(p), DF: df}
}

// EqualVariances tests whether groups have one variance.
//
//	Levene, Brown-Forsythe: one-way F of |y - mean| and of |y - median|
//	Bartlett: ((n-k) ln s² - sum (n_g-1) ln s_g²) / (1 + (sum 1/(n_g-1) - 1/(n-k))/(3(k-1)))
//	Fligner-Killeen: one-way chi² of the normal scores of the ranks of |y - median|
//
// Source: Levene (1960); Brown & Forsythe (1974), JASA 69:364-367; Bartlett (1937);
// Conover, Johnson & Johnson (1981), Technometrics 23:351-361. Errors: ErrInput for NaN.
func EqualVariances(groups [][]float64) (Homogeneity, error) {
	var r Homogeneity
	live, err := nonEmpty(groups, &r.Flags)
	if err != nil {
		return r, err
	}
	if len(live) < 2 {
		r.Flags.Add(FlagOneGroup)
		return r, nil
	}
	mean := func(g []float64) float64 { m, _ := moments(g); return m }
	if r.Levene, err = levene(distances(live, mean)); err != nil {
		return r, err
	}
	fromMedian := distances(live, middle)
	if r.BrownForsythe, err = levene(fromMedian); err != nil {
		return r, err
	}
	r.Bartlett = bartlett(live)
	r.Fligner = fligner(fromMedian)
	if !r.BrownForsythe.F.OK {
		r.Flags.Add(FlagNotDefined)
	}
	return r, nil
}

// BrownForsythe is the test of that name alone, of EqualVariances. Errors: ErrInput for NaN.
func BrownForsythe(groups [][]float64) (WelchTest, error) {
	var r WelchTest
	live, err := nonEmpty(groups, &r.Flags)
	if err != nil {
		return r, err
	}
	if len(live) < 2 {
		r.Flags.Add(FlagOneGroup)
		return r, nil
	}
	return levene(distances(live, middle))
}

func middle(g []float64) float64 {
	m, _ := Median(g)
	return m.V
}

// distances returns |y - centre| of every group.
func distances(groups [][]float64, centre func([]float64) float64) [][]float64 {
	out := make([][]float64, len(groups))
	for i, g := range groups {
		c := centre(g)
		out[i] = make([]float64, len(g))
		for j, v := range g {
			out[i][j] = math.Abs(v - c)
		}
	}
	return out
}

func levene(distances [][]float64) (WelchTest, error) {
	a, err := OneWay(distances)
	return WelchTest{F: a.F, P: a.P, DF1: float64(a.DFBetween), DF2: float64(a.DFWithin), Flags: a.Flags}, err
}

func bartlett(groups [][]float64) ChiTest {
	var n, pooled, logs, inverse float64
	k := float64(len(groups))
	for _, g := range groups {
		m := float64(len(g) - 1)
		_, ss := moments(g)
		if m < 1 || ss == 0 {
			return ChiTest{}
		}
		n += m
		pooled += ss
		logs += m * math.Log(ss/m)
		inverse += 1 / m
	}
	x := (n*math.Log(pooled/n) - logs) / (1 + (inverse-1/n)/(3*(k-1)))
	return chiTest(x, len(groups)-1)
}

func fligner(distances [][]float64) ChiTest {
	var all []float64
	for _, g := range distances {
		all = append(all, g...)
	}
	doubled, _ := midranks(all)
	score := make([]float64, len(all))
	for i, r := range halves(doubled) {
		score[i], _ = NormalQuantile((1 + r/float64(len(all)+1)) / 2)
	}
	m, ss := moments(score)
	if len(all) < 2 || ss == 0 {
		return ChiTest{}
	}
	v := ss / float64(len(all)-1)
	x, at := 0.0, 0
	for _, g := range distances {
		d, _ := moments(score[at : at+len(g)])
		x += float64(len(g)) * (d - m) * (d - m)
		at += len(g)
	}
	return chiTest(x/v, len(distances)-1)
}
