package inference

import (
	"math"
	"slices"

	"sheetwash/analysis/quantity"
)

// RankTrend is a trend by ranks: Mann-Kendall's test and Theil and Sen's slope.
type RankTrend struct {
	Interval             // Value is the slope, per unit of x
	S, VarS, Z, P        quantity.Optional
	Intercept            quantity.Optional // median y - slope median x (Conover)
	InterceptOfResiduals quantity.Optional // median of y - slope x
	LowRank, HighRank    float64
}

// TheilSen returns the median of the slopes between all pairs of points and
// tests whether y has a trend along x.
//
//	Z = (S - sign S)/sqrt(var S),  var S = (n(n-1)(2n+5) - sum t(t-1)(2t+5))/18
//	limits: slopes of rank (N - z sqrt(var S))/2 and (N + z sqrt(var S))/2 + 1, rounded outwards, among N slopes
//
// Source: Mann (1945), Econometrica 13:245-259; Sen (1968), Journal of the American
// Statistical Association 63:1379-1389; Gilbert (1987), Statistical Methods for Environmental Pollution Monitoring,
// ch. 16-17. Fewer than three points: n_small. Errors: ErrInput for NaN, unlike lengths or the level.
func TheilSen(x, y []float64, level float64) (RankTrend, error) {
	c, err := pairs(x, y, level)
	r := RankTrend{Interval: c.Interval}
	if err != nil {
		return r, err
	}
	var slopes []float64
	s := 0.0
	for i := range x {
		for j := range i {
			dx := x[i] - x[j]
			if dx == 0 {
				continue
			}
			slopes = append(slopes, (y[i]-y[j])/dx)
			s += sign(dx) * sign(y[i]-y[j])
		}
	}
	if len(slopes) == 0 {
		r.Flags.Add(FlagNotDefined)
		return r, nil
	}
	r.Flags = nil
	slices.Sort(slopes)
	n := len(slopes)
	slope := (slopes[(n-1)/2] + slopes[n/2]) / 2
	r.Value = quantity.Some(slope)
	mx, _ := Median(x)
	my, _ := Median(y)
	r.Intercept = quantity.Some(my.V - slope*mx.V)
	rest := make([]float64, len(x))
	for i := range x {
		rest[i] = y[i] - slope*x[i]
	}
	r.InterceptOfResiduals, _ = Median(rest)
	k := float64(len(x))
	v := (k*(k-1)*(2*k+5) - tieSums(y).five - tieSums(x).five) / 18
	r.S, r.VarS = quantity.Some(s), quantity.Some(v)
	if !(v > 0) {
		r.Flags.Add(FlagNoSpread)
		return r, nil
	}
	z := (s - sign(s)) / math.Sqrt(v)
	r.Z, r.P = quantity.Some(z), quantity.Some(2*NormalCDF(-math.Abs(z)))
	half := criticalNormal(level) * math.Sqrt(v)
	r.LowRank, r.HighRank = (float64(n)-half)/2, (float64(n)+half)/2+1
	if r.LowRank < 1 {
		r.Flags.Add(FlagNSmall)
	}
	lo := min(max(math.Floor(r.LowRank), 1), float64(n))
	hi := min(max(math.Ceil(r.HighRank), 1), float64(n))
	if slopes[int(lo)-1] == slopes[int(hi)-1] {
		r.Flags.Add(FlagNoSpread)
		return r, nil
	}
	r.Low, r.High = quantity.Some(slopes[int(lo)-1]), quantity.Some(slopes[int(hi)-1])
	return r, nil
}
