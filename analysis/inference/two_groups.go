package inference

import (
	"math"

	"sheetwash/analysis/quantity"
)

// Difference is a difference of means with its test. The difference is first
// minus second.
type Difference struct {
	Interval
	First, Second quantity.Optional // means
	T, P          quantity.Optional // two-sided
}

// PairedT returns the mean of a - b over pairs with Student's interval and test.
//
// Source: Student (1908), Biometrika 6:1-25. DF is pairs - 1, SD that of the differences.
// Errors: ErrInput for NaN, unlike lengths or the level.
func PairedT(a, b []float64, level float64) (Difference, error) {
	if err := checkLengths("a", "b", len(a), len(b)); err != nil {
		return Difference{}, err
	}
	if err := checkFinite("a", a); err != nil {
		return Difference{}, err
	}
	if err := checkFinite("b", b); err != nil {
		return Difference{}, err
	}
	d := make([]float64, len(a))
	for i := range a {
		d[i] = a[i] - b[i]
	}
	m, err := MeanT(d, level)
	if err != nil {
		return Difference{}, err
	}
	r := Difference{Interval: m, First: meanOf(a), Second: meanOf(b)}
	r.test()
	return r, nil
}

// WelchT returns the difference of the means of two independent groups whose
// variances may differ.
//
//	d ± t(nu) sqrt(s1²/n1 + s2²/n2), nu by Welch-Satterthwaite
//
// Source: Welch (1947), Biometrika 34:28-35. A group of one: no interval, flag
// one_value. Errors: ErrInput for NaN or the level.
func WelchT(x, y []float64, level float64) (Difference, error) {
	a, err := MeanT(x, level)
	if err != nil {
		return Difference{}, err
	}
	b, err := MeanT(y, level)
	if err != nil {
		return Difference{}, err
	}
	r := Difference{Interval: Interval{Level: level, N: len(x) + len(y)}, First: a.Value, Second: b.Value}
	switch {
	case a.N == 0 || b.N == 0:
		r.Flags.Add(FlagNoData)
		return r, nil
	case a.N == 1 || b.N == 1:
		r.Value = quantity.Some(a.Value.V - b.Value.V)
		r.Flags.Add(FlagOneValue)
		return r, nil
	}
	r.Value = quantity.Some(a.Value.V - b.Value.V)
	r.SE = quantity.Some(math.Hypot(a.SE.V, b.SE.V))
	if !spread(max(math.Abs(a.Value.V), math.Abs(b.Value.V)), r.SE.V) {
		r.Flags.Add(FlagNoSpread)
		return r, nil
	}
	r.DF, err = WelchSatterthwaite([]float64{a.SE.V, b.SE.V}, []float64{a.DF.V, b.DF.V})
	if err != nil {
		return Difference{}, err
	}
	h := critical(level, r.DF.V) * r.SE.V
	r.Low, r.High = quantity.Some(r.Value.V-h), quantity.Some(r.Value.V+h)
	r.test()
	return r, nil
}

// WelchTLog returns the ratio of geometric means x/y: WelchT of the logarithms,
// transformed back. T and P are those of the logarithms; First and Second are the
// geometric means. Errors: ErrInput for values that are not positive.
func WelchTLog(x, y []float64, level float64) (Difference, error) {
	if err := checkPositive("x", x); err != nil {
		return Difference{}, err
	}
	if err := checkPositive("y", y); err != nil {
		return Difference{}, err
	}
	r, err := WelchT(logs(x), logs(y), level)
	if err != nil {
		return Difference{}, err
	}
	for _, v := range []*quantity.Optional{&r.Value, &r.Low, &r.High, &r.First, &r.Second} {
		*v = v.Map(math.Exp)
	}
	return r, nil
}

// test fills T and P from estimate, standard error and degrees of freedom.
func (d *Difference) test() {
	if !d.Bounded() || !d.SE.OK || d.SE.V == 0 {
		return
	}
	d.T = quantity.Some(d.Value.V / d.SE.V)
	if p, err := TTwoSided(d.T.V, d.DF.V); err == nil {
		d.P = quantity.Some(p)
	}
}

func meanOf(y []float64) quantity.Optional {
	if len(y) == 0 {
		return quantity.None()
	}
	m, _ := moments(y)
	return quantity.Some(m)
}
