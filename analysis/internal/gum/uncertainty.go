package gum

import "math"

// Rectangular returns the standard uncertainty of a value that lies anywhere
// within +- halfWidth with equal probability.
//
//	u = a / sqrt(3)
//
// Source: [GUM2008] 4.3.7.
func Rectangular(halfWidth float64) float64 { return halfWidth / math.Sqrt(3) }

// Triangular returns the standard uncertainty of a value that lies within
// +- halfWidth, most likely at its middle: a judged scale.
//
//	u = a / sqrt(6)
//
// Source: [GUM2008] 4.3.9.
func Triangular(halfWidth float64) float64 { return halfWidth / math.Sqrt(6) }

// Resolution returns the standard uncertainty of a digital reading.
//
//	u = step / sqrt(12)
//
// Source: [GUM2008] F.2.2.1.
func Resolution(step float64) float64 { return step / math.Sqrt(12) }

// Combined returns the standard uncertainty of a sum of independent terms.
//
//	u = sqrt(sum u_i^2)
//
// Source: [GUM2008] 5.1.2 with sensitivities of one.
func Combined(u ...float64) float64 {
	var s float64
	for _, x := range u {
		s += x * x
	}
	return math.Sqrt(s)
}

// EffectiveDF returns the degrees of freedom of a combined uncertainty, of which
// the part u was estimated with df degrees of freedom and the rest is known.
//
//	nu_eff = u_c^4 / sum(u_i^4 / nu_i)
//
// A df of 0 stands for a known uncertainty (no end of degrees of freedom), in
// the argument and in the result.
// Source: Welch-Satterthwaite formula, [GUM2008] G.4.1.
func EffectiveDF(combined, u, df float64) float64 {
	return WelchSatterthwaite(combined, []float64{u}, []float64{df})
}

// WelchSatterthwaite is EffectiveDF for any number of estimated parts. The
// slices are of equal length; further entries of the longer one are ignored.
func WelchSatterthwaite(combined float64, u, df []float64) float64 {
	var s float64
	for i := range min(len(u), len(df)) {
		if df[i] > 0 {
			s += math.Pow(u[i], 4) / df[i]
		}
	}
	if s == 0 {
		return 0
	}
	return math.Pow(combined, 4) / s
}
