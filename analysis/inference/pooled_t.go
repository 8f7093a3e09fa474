package inference

import (
	"math"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// StudentT returns the difference of the means of two independent groups with
// one variance.
//
//	d ± t(n1+n2-2) sp sqrt(1/n1 + 1/n2)
//
// Source: Student (1908); Fisher (1925). SD is the pooled one. Errors: ErrInput for NaN or the level.
func StudentT(x, y []float64, level float64) (Difference, error) {
	a, err := MeanT(x, level)
	if err != nil {
		return Difference{}, err
	}
	b, err := MeanT(y, level)
	if err != nil {
		return Difference{}, err
	}
	r := Difference{Interval: Interval{Level: level, N: a.N + b.N}, First: a.Value, Second: b.Value}
	if a.N == 0 || b.N == 0 {
		r.Flags.Add(FlagNoData)
		return r, nil
	}
	r.Value = quantity.Some(a.Value.V - b.Value.V)
	if a.N+b.N < 3 {
		r.Flags.Add(FlagOneValue)
		return r, nil
	}
	r.pooled(x, y, level)
	return r, nil
}

// pooled fills error, limits and test from the variance within both groups.
func (d *Difference) pooled(x, y []float64, level float64) {
	_, s1 := moments(x)
	_, s2 := moments(y)
	n1, n2 := float64(len(x)), float64(len(y))
	d.DF = quantity.Some(n1 + n2 - 2)
	d.SD = quantity.Some(math.Sqrt((s1 + s2) / (n1 + n2 - 2)))
	d.SE = quantity.Some(d.SD.V * math.Sqrt(1/n1+1/n2))
	if !spread(max(math.Abs(d.First.V), math.Abs(d.Second.V)), d.SE.V) {
		d.Flags.Add(FlagNoSpread)
		return
	}
	h := critical(level, d.DF.V) * d.SE.V
	d.Low, d.High = quantity.Some(d.Value.V-h), quantity.Some(d.Value.V+h)
	d.test()
}

// HedgesG is a difference of means in standard deviations.
type HedgesG struct {
	D, G            Interval // Cohen's d with the pooled deviation, and g = J d
	JExact, JApprox float64
	Variance        quantity.Optional // of g, for large samples
	Flags           result.Flags
}

// StandardizedDifference returns Hedges' g.
//
//	d = (m1-m2)/sp,  g = J d,  J = Gamma(v/2)/(sqrt(v/2) Gamma((v-1)/2)),  v = n1+n2-2
//	var g = 1/n1 + 1/n2 + g²/(2 (n1+n2))
//	limits: the noncentralities for which t is at the tails, times sqrt(1/n1+1/n2), and J for g
//
// Source: Hedges (1981), Journal of Educational Statistics 6:107-128; limits by
// Steiger & Fouladi (1997). Errors: ErrInput for NaN or the level.
func StandardizedDifference(x, y []float64, level float64) (HedgesG, error) {
	t, err := StudentT(x, y, level)
	if err != nil {
		return HedgesG{}, err
	}
	var r HedgesG
	r.Flags = t.Flags
	if !t.T.OK || t.DF.V < 2 {
		r.Flags.Add(FlagNotDefined)
		return r, nil
	}
	n1, n2, v := float64(len(x)), float64(len(y)), t.DF.V
	a, _ := math.Lgamma(v / 2)
	b, _ := math.Lgamma((v - 1) / 2)
	r.JExact, r.JApprox = math.Exp(a-b)/math.Sqrt(v/2), 1-3/(4*v-1)
	d := t.Value.V / t.SD.V
	scale := math.Sqrt(1/n1 + 1/n2)
	limit := func(p float64) quantity.Optional {
		ncp, ok := risingRoot(func(ncp float64) float64 {
			c, err := NoncentralTCDF(t.T.V, v, ncp)
			if err != nil {
				return math.NaN()
			}
			return p - c
		}, t.T.V-2, t.T.V+2)
		return quantity.Optional{V: ncp * scale, OK: ok}
	}
	r.D = Interval{Value: quantity.Some(d), Level: level, N: t.N, Low: limit((1 + level) / 2), High: limit((1 - level) / 2)}
	times := func(q float64) float64 { return q * r.JExact }
	r.G = r.D
	r.G.Value, r.G.Low, r.G.High = r.D.Value.Map(times), r.D.Low.Map(times), r.D.High.Map(times)
	g := r.G.Value.V
	r.Variance = quantity.Some(1/n1 + 1/n2 + g*g/(2*(n1+n2)))
	return r, nil
}
