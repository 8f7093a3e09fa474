package inference

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// MixedModel is a linear model with random effects of nested or crossed groups,
// such as event and run within event.
type MixedModel struct {
	N          int
	Fixed      []Coefficient // in the order of the columns
	DF         []quantity.Optional
	Variances  []Interval        // one of each grouping, then the residual; limits by the profile of the restricted likelihood
	Deviance   quantity.Optional // -2 ln restricted likelihood
	MLDeviance quantity.Optional // -2 ln likelihood at its own maximum
	Singular   bool              // a variance of a grouping is zero
	Effects    [][]float64       // predictions of the random effects, by grouping and level
	Levels     [][]string        // their levels, in order of first appearance
	Level      float64
	Flags      result.Flags

	fit *mixedFit
}

// Mixed fits y = X b + sum Z_k u_k + e by restricted maximum likelihood. The
// columns hold the intercept, if one is wanted.
//
//	V = s² (I + sum r_k Z_k Z_k'),  b = (X'V^-1X)^-1 X'V^-1 y
//	-2 l_R = ln|V| + ln|X'V^-1X| + (y-Xb)'V^-1(y-Xb) + (n-p) ln 2 pi
//	Satterthwaite: df = 2 c² / (g' A g),  c = var(l'b), g its slope by the variances, A their covariance
//
// s² is profiled out; the ratios r_k are searched by golden section and, for several groupings, in
// turn. Dense matrices: meant for seasons of up to some hundred values. Source: Patterson & Thompson (1971), Biometrika 58:545-554;
// Bates et al. (2015), Journal of Statistical Software 67(1), for the profiled criterion; Giesbrecht & Burns (1985), Biometrics 41:477-486, for the
// degrees of freedom. A variance of zero is reported as Singular with the flag singular. Errors: ErrInput for NaN, unlike lengths or the level.
func Mixed(y []float64, columns [][]float64, groups [][]string, level float64) (MixedModel, error) {
	r := MixedModel{N: len(y), Level: level}
	if err := checkLevel(level); err != nil {
		return r, err
	}
	if err := checkFinite("y", y); err != nil {
		return r, err
	}
	for j, c := range columns {
		if err := checkLengths("column", "y", len(c), len(y)); err != nil {
			return r, err
		}
		if err := checkFinite(fmt.Sprintf("column %d", j), c); err != nil {
			return r, err
		}
	}
	for _, g := range groups {
		if err := checkLengths("group", "y", len(g), len(y)); err != nil {
			return r, err
		}
	}
	if len(y) == 0 {
		r.Flags.Add(FlagNoData)
		return r, nil
	}
	if _, ok := fitLinear(columns, y); !ok || len(groups) == 0 {
		r.Flags.Add(FlagNotDefined)
		return r, nil
	}
	if len(y) <= len(columns)+len(groups) {
		r.Flags.Add(FlagNSmall)
		return r, nil
	}
	f := newMixedFit(y, columns, groups)
	for _, g := range groups {
		l := appearances(g)
		r.Levels = append(r.Levels, l)
		if len(l) == len(y) || len(l) < 2 {
			r.Flags.Add(FlagNotDefined) // a level for each value, or one for all
			return r, nil
		}
	}
	r.fit = f
	r.solve()
	return r, nil
}

func (r *MixedModel) solve() {
	f := r.fit
	f.maximise(true)
	at := f.at(f.ratio)
	mean, _ := moments(f.y)
	if !at.ok || !spread(mean, math.Sqrt(at.sigma2)) {
		r.Flags.Add(FlagNoSpread)
		return
	}
	n, p := float64(len(f.y)), float64(len(f.columns))
	r.Deviance = quantity.Some(at.logDetV + at.logDetX + (n-p)*(1+math.Log(2*math.Pi*at.sigma2)))
	ml := *f
	ml.maximise(false)
	m := ml.at(ml.ratio)
	r.MLDeviance = quantity.Some(m.logDetV + n*(1+math.Log(2*math.Pi*m.rss/n)))
	for k, ratio := range f.ratio {
		v := ratio * at.sigma2
		if ratio < 1e-8 {
			v, r.Singular = 0, true
		}
		i := Interval{Value: quantity.Some(v), Level: r.Level, N: len(r.Levels[k])}
		f.profileVariance(k, &i, at)
		r.Variances = append(r.Variances, i)
	}
	residual := Interval{Value: quantity.Some(at.sigma2), Level: r.Level, N: len(f.y)}
	f.profileVariance(len(f.ratio), &residual, at)
	r.Variances = append(r.Variances, residual)
	if r.Singular {
		r.Flags.Add(FlagSingular)
	}
	for j := range f.columns {
		l := make([]float64, len(f.columns))
		l[j] = 1
		c, df := r.Contrast(l)
		r.Fixed, r.DF = append(r.Fixed, c), append(r.DF, df)
	}
	r.Effects = f.predictions(at)
}

// Contrast returns l'b with its error and Satterthwaite's degrees of freedom.
func (r MixedModel) Contrast(l []float64) (Coefficient, quantity.Optional) {
	f := r.fit
	if f == nil || len(l) != len(f.columns) || len(r.Variances) == 0 {
		return Coefficient{}, quantity.None()
	}
	at := f.at(f.ratio)
	value := 0.0
	for j, v := range l {
		value += v * at.b.AtVec(j)
	}
	variance := at.sigma2 * quadratic(at.inverse, l)
	se := math.Sqrt(variance)
	c := Coefficient{Value: quantity.Some(value), SE: quantity.Some(se)}
	df := f.satterthwaite(l, at)
	if !(se > 0) || !(df > 0) {
		return c, quantity.None()
	}
	c.T = quantity.Some(value / se)
	if p, err := TTwoSided(c.T.V, df); err == nil {
		c.P = quantity.Some(p)
	}
	h := critical(r.Level, df) * se
	c.Low, c.High = quantity.Some(value-h), quantity.Some(value+h)
	return c, quantity.Some(df)
}

// JointTest tests that several contrasts are all zero.
//
//	F = b'L'(L C L')^-1 L b/q;  the contrasts are turned to be uncorrelated, df2 = 2E/(E-q), E = sum of df/(df-2)
//
// Source: Fai & Cornelius (1996), Journal of Statistical Computation and Simulation 54:363-378.
func (r MixedModel) JointTest(contrasts [][]float64) WelchTest {
	var w WelchTest
	f := r.fit
	q := len(contrasts)
	if f == nil || q == 0 || len(r.Variances) == 0 {
		w.Flags.Add(FlagNotDefined)
		return w
	}
	at := f.at(f.ratio)
	p := len(f.columns)
	l := mat.NewDense(q, p, nil)
	for i, c := range contrasts {
		if len(c) != p {
			w.Flags.Add(FlagNotDefined)
			return w
		}
		l.SetRow(i, c)
	}
	var lc, lcl mat.Dense
	lc.Mul(l, at.inverse)
	lcl.Mul(&lc, l.T())
	s := mat.NewSymDense(q, nil)
	for i := range q {
		for j := i; j < q; j++ {
			s.SetSym(i, j, lcl.At(i, j)*at.sigma2)
		}
	}
	var eig mat.EigenSym
	if !eig.Factorize(s, true) {
		w.Flags.Add(FlagNotConverged)
		return w
	}
	var vectors, turned mat.Dense
	eig.VectorsTo(&vectors)
	turned.Mul(vectors.T(), l)
	values := eig.Values(nil)
	total, e := 0.0, 0.0
	for i, v := range values {
		if !(v > 1e-12*values[q-1]) {
			w.Flags.Add(FlagNotDefined)
			return w
		}
		row := mat.Row(nil, i, &turned)
		t := 0.0
		for j, x := range row {
			t += x * at.b.AtVec(j)
		}
		total += t * t / v
		if df := f.satterthwaite(row, at); df > 2 {
			e += df / (df - 2)
		}
	}
	w.DF1 = float64(q)
	w.F = quantity.Some(total / w.DF1)
	if q == 1 {
		w.DF2 = f.satterthwaite(contrasts[0], at)
	} else if e > w.DF1 {
		w.DF2 = 2 * e / (e - w.DF1)
	}
	if pv, err := FUpper(w.F.V, w.DF1, w.DF2); err == nil {
		w.P = quantity.Some(pv)
	} else {
		w.Flags.Add(FlagNSmall)
	}
	return w
}

func quadratic(m mat.Matrix, l []float64) float64 {
	v := 0.0
	for i, a := range l {
		for j, b := range l {
			v += a * b * m.At(i, j)
		}
	}
	return v
}
