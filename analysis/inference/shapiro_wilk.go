package inference

import (
	"math"
	"slices"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// Normality is a test of normality.
type Normality struct {
	W, P  quantity.Optional
	N     int
	Flags result.Flags
}

// ShapiroWilk tests whether a sample is normal.
//
// W is the squared correlation of the ordered values with approximate normal
// scores, p by Royston's approximations; exact for three values, where W cannot be below 0.75. Source:
// Shapiro & Wilk (1965), Biometrika 52:591-611; Royston (1992), Statistics and Computing
// 2:117-119; Royston (1995), Applied Statistics 44:547-551 (AS R94). Fewer than three values or more than 5000: n_small or not_defined. Errors: ErrInput for NaN.
func ShapiroWilk(y []float64) (Normality, error) {
	r := Normality{N: len(y)}
	if err := checkFinite("y", y); err != nil {
		return r, err
	}
	switch {
	case r.N == 0:
		r.Flags.Add(FlagNoData)
		return r, nil
	case r.N < 3:
		r.Flags.Add(FlagNSmall)
		return r, nil
	case r.N > 5000:
		r.Flags.Add(FlagNotDefined)
		return r, nil
	}
	x := slices.Sorted(slices.Values(y))
	mean, ss := moments(x)
	if !spread(mean, math.Sqrt(ss/float64(r.N))) {
		r.Flags.Add(FlagNoSpread)
		return r, nil
	}
	a := royston(r.N)
	cross, squares := 0.0, 0.0
	for i := range a {
		cross += a[i] * (x[r.N-1-i] - x[i])
		squares += 2 * a[i] * a[i]
	}
	w := math.Min(1, cross*cross/(ss*squares))
	r.W = quantity.Some(w)
	r.P = quantity.Some(roystonP(w, 1-w, r.N))
	return r, nil
}

func polynomial(c []float64, x float64) float64 {
	v := 0.0
	for i := len(c) - 1; i >= 0; i-- {
		v = v*x + c[i]
	}
	return v
}

// royston returns the weights of the differences between largest and smallest,
// second largest and second smallest and so on.
func royston(n int) []float64 {
	if n == 3 {
		return []float64{math.Sqrt(0.5)}
	}
	half := n / 2
	m := make([]float64, half)
	sum := 0.0
	for i := range m {
		z, _ := NormalQuantile((float64(i+1) - 0.375) / (float64(n) + 0.25))
		m[i] = -z
		sum += 2 * z * z
	}
	root := math.Sqrt(sum)
	u := 1 / math.Sqrt(float64(n))
	a := make([]float64, half)
	a[0] = polynomial([]float64{0, 0.221157, -0.147981, -2.07119, 4.434685, -2.706056}, u) + m[0]/root
	from, left, used := 1, sum-2*m[0]*m[0], 1-2*a[0]*a[0]
	if n > 5 {
		a[1] = polynomial([]float64{0, 0.042981, -0.293762, -1.752461, 5.682633, -3.582633}, u) + m[1]/root
		from, left, used = 2, left-2*m[1]*m[1], used-2*a[1]*a[1]
	}
	scale := math.Sqrt(left / used)
	for i := from; i < half; i++ {
		a[i] = m[i] / scale
	}
	return a
}

func roystonP(w, rest float64, n int) float64 {
	if n == 3 {
		p := 6 / math.Pi * (math.Asin(math.Sqrt(w)) - math.Asin(math.Sqrt(0.75)))
		return math.Min(1, math.Max(0, p))
	}
	if rest <= 0 {
		return 1
	}
	k, y := float64(n), math.Log(rest)
	var mu, sigma float64
	if n <= 11 {
		gamma := polynomial([]float64{-2.273, 0.459}, k)
		if y >= gamma {
			return 1e-99
		}
		y = -math.Log(gamma - y)
		mu = polynomial([]float64{0.544, -0.39978, 0.025054, -6.714e-4}, k)
		sigma = math.Exp(polynomial([]float64{1.3822, -0.77857, 0.062767, -0.0020322}, k))
	} else {
		l := math.Log(k)
		mu = polynomial([]float64{-1.5861, -0.31082, -0.083751, 0.0038915}, l)
		sigma = math.Exp(polynomial([]float64{-0.4803, -0.082676, 0.0030302}, l))
	}
	return NormalCDF(-(y - mu) / sigma)
}
