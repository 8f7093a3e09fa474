package inference

import (
	"math"
	"slices"

	"sheetwash/analysis/quantity"
)

// Correlation is a coefficient of correlation with its test.
type Correlation struct {
	Interval
	T, P           quantity.Optional
	PContinuity    quantity.Optional // Kendall: normal with continuity correction
	PEnumeration   quantity.Optional // Kendall: by all orders, up to eight pairs without ties
	ExactlyCounted bool              // P is exact
}

// Pearson returns the product-moment correlation with Fisher's interval.
//
//	limits: tanh(atanh r ± z/sqrt(n-3)),  t = r sqrt((n-2)/(1-r²))
//
// Source: Fisher (1921), Metron 1:3-32. Fewer than four pairs: no interval, n_small.
// Equal values: not_defined. Errors: ErrInput for NaN, unlike lengths or the level.
func Pearson(x, y []float64, level float64) (Correlation, error) {
	r, err := pairs(x, y, level)
	if err != nil || len(r.Flags) > 0 {
		return r, err
	}
	mx, sxx := moments(x)
	my, syy := moments(y)
	sxy := 0.0
	for i := range x {
		sxy += (x[i] - mx) * (y[i] - my)
	}
	c := math.Max(-1, math.Min(1, sxy/math.Sqrt(sxx)/math.Sqrt(syy)))
	n := float64(len(x))
	r.Value, r.DF = quantity.Some(c), quantity.Some(n-2)
	if math.Abs(c) >= 1 {
		r.Flags.Add(FlagPerfectFit)
		return r, nil
	}
	if n < 3 {
		r.Flags.Add(FlagNSmall)
		return r, nil
	}
	t := c * math.Sqrt((n-2)/((1-c)*(1+c)))
	p, err := TTwoSided(t, n-2)
	if err != nil {
		return r, err
	}
	r.T, r.P = quantity.Some(t), quantity.Some(p)
	if n < 4 {
		r.Flags.Add(FlagNSmall)
		return r, nil
	}
	h := criticalNormal(level) / math.Sqrt(n-3)
	r.Low, r.High = quantity.Some(math.Tanh(math.Atanh(c)-h)), quantity.Some(math.Tanh(math.Atanh(c)+h))
	return r, nil
}

// pairs checks two samples of pairs and flags what has no correlation.
func pairs(x, y []float64, level float64) (Correlation, error) {
	r := Correlation{Interval: Interval{Level: level, N: len(x)}}
	if err := checkLengths("x", "y", len(x), len(y)); err != nil {
		return r, err
	}
	if err := checkFinite("x", x); err != nil {
		return r, err
	}
	if err := checkFinite("y", y); err != nil {
		return r, err
	}
	if err := checkLevel(level); err != nil {
		return r, err
	}
	switch {
	case len(x) == 0:
		r.Flags.Add(FlagNoData)
	case len(x) == 1:
		r.Flags.Add(FlagOneValue)
	case slices.Min(x) == slices.Max(x) || slices.Min(y) == slices.Max(y):
		r.Flags.Add(FlagNotDefined)
	}
	return r, nil
}

// Kendall returns tau-b, corrected for ties, with a two-sided test.
//
//	tau_b = S/sqrt((n0-n1)(n0-n2)),  S = concordant - discordant pairs
//
// Without ties and below 50 pairs P is exact; else normal with the variance for ties and
// without continuity correction (PContinuity has it). gonum's Kendall is tau-a.
// Source: Kendall (1970), Rank Correlation Methods, 4th ed. Errors as Pearson.
func Kendall(x, y []float64) (Correlation, error) {
	r, err := pairs(x, y, 0.95)
	r.Level = 0
	if err != nil || len(r.Flags) > 0 {
		return r, err
	}
	n := len(x)
	s := concordance(x, y)
	tx, ty := tieSums(x), tieSums(y)
	n0 := float64(n*(n-1)) / 2
	r.Value = quantity.Some(s / math.Sqrt((n0-tx.pairs)*(n0-ty.pairs)))
	k := float64(n)
	v := (k*(k-1)*(2*k+5) - tx.five - ty.five) / 18
	v += 4 * tx.pairs * ty.pairs / (2 * k * (k - 1))
	if n > 2 {
		v += tx.triples * ty.triples / (9 * k * (k - 1) * (k - 2))
	}
	sd := math.Sqrt(v)
	r.PContinuity = quantity.Some(math.Min(1, 2*NormalCDF(-math.Max(0, math.Abs(s)-1)/sd)))
	if tx.pairs > 0 || ty.pairs > 0 || n >= 50 {
		r.P = quantity.Some(2 * NormalCDF(-math.Abs(s)/sd))
		return r, nil
	}
	r.ExactlyCounted = true
	counts := inversionCounts(n)
	discordant := int(math.Round((n0 - s) / 2))
	lower, upper := tails(counts, discordant)
	r.P = quantity.Some(math.Min(1, 2*math.Min(lower, upper)))
	if n <= 8 {
		r.PEnumeration = r.P
	}
	return r, nil
}

// concordance returns concordant minus discordant pairs.
func concordance(x, y []float64) float64 {
	s := 0.0
	for i := range x {
		for j := range i {
			s += sign(x[i]-x[j]) * sign(y[i]-y[j])
		}
	}
	return s
}

func sign(v float64) float64 {
	switch {
	case v > 0:
		return 1
	case v < 0:
		return -1
	}
	return 0
}

// tied holds sums over groups of t ties: t(t-1)/2, t(t-1)(2t+5) and t(t-1)(t-2).
type tied struct{ pairs, five, triples float64 }

func tieSums(y []float64) tied {
	var r tied
	s := slices.Sorted(slices.Values(y))
	for i := 0; i < len(s); {
		j := i
		for j < len(s) && s[j] == s[i] {
			j++
		}
		t := float64(j - i)
		r.pairs += t * (t - 1) / 2
		r.five += t * (t - 1) * (2*t + 5)
		r.triples += t * (t - 1) * (t - 2)
		i = j
	}
	return r
}

// inversionCounts returns, for each number of inversions, how many orders of n
// things have it.
func inversionCounts(n int) []float64 {
	counts := []float64{1}
	for k := 2; k <= n; k++ {
		next := make([]float64, len(counts)+k-1)
		for i, c := range counts {
			for j := range k {
				next[i+j] += c
			}
		}
		counts = next
	}
	return counts
}

// Spearman returns the rank correlation with a two-sided test.
//
//	rho = Pearson's r of the midranks
//
// Up to nine pairs without ties P is exact by enumeration, above the Edgeworth
// series of Best & Roberts (1975), Applied Statistics 24:377-379 (AS 89); with
// ties Student's t. Source: Spearman (1904). Errors as Pearson.
func Spearman(x, y []float64) (Correlation, error) {
	r, err := pairs(x, y, 0.95)
	r.Level = 0
	if err != nil || len(r.Flags) > 0 {
		return r, err
	}
	rx, tx := midranks(x)
	ry, ty := midranks(y)
	c, err := Pearson(halves(rx), halves(ry), 0.95)
	if err != nil {
		return r, err
	}
	r.Value = c.Value
	if tx > 0 || ty > 0 {
		r.T, r.DF, r.P = c.T, c.DF, c.P
		return r, nil
	}
	d2 := 0.0
	for i := range rx {
		d := float64(rx[i]-ry[i]) / 2
		d2 += d * d
	}
	n := len(x)
	var p float64
	if half := float64(n*n*n-n) / 6; d2 > half {
		p = spearmanUpper(d2, n)
	} else {
		p = 1 - spearmanUpper(d2+2, n)
	}
	r.ExactlyCounted = n <= 9
	r.P = quantity.Some(math.Min(1, math.Max(0, 2*p)))
	return r, nil
}

// spearmanUpper returns P(sum d² >= s).
func spearmanUpper(s float64, n int) float64 {
	k := float64(n)
	most := k * (k*k - 1) / 3
	switch {
	case s <= 0:
		return 1
	case s > most:
		return 0
	}
	if n <= 9 {
		return enumerateSquares(s, n)
	}
	b := 1 / k
	x := (6*(s-1)*b/(k*k-1) - 1) * math.Sqrt(k-1)
	y := x * x
	u := x * b * (0.2274 + b*(0.2531+0.1745*b) + y*(-0.0758+b*(0.1033+0.3932*b)-y*b*(0.0879+0.0151*b-y*(0.0072-0.0831*b+y*b*(0.0131-4.6e-4*y)))))
	return math.Min(1, math.Max(0, u/math.Exp(y/2)+NormalCDF(-x)))
}

// enumerateSquares counts the orders of n ranks whose squared distances sum to s at least.
func enumerateSquares(s float64, n int) float64 {
	used := make([]bool, n)
	var hits, all float64
	var place func(i int, sum float64)
	place = func(i int, sum float64) {
		if i == n {
			all++
			if sum >= s {
				hits++
			}
			return
		}
		for j := range n {
			if !used[j] {
				used[j] = true
				d := float64(i - j)
				place(i+1, sum+d*d)
				used[j] = false
			}
		}
	}
	place(0, 0)
	return hits / all
}
