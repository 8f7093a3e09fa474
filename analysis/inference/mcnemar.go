package inference

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// Discordant is a test of pairs that changed one way or the other.
type Discordant struct {
	Exact, Mid    quantity.Optional // two-sided, exact and mid-p
	ChiSquared, P quantity.Optional // with continuity correction
	Flags         result.Flags
}

// McNemar tests whether b changes one way and c the other are equally likely.
//
//	exact: 2 P(B <= min(b, c)), B ~ Binomial(b+c, 1/2);  chi² = (|b-c| - 1)²/(b+c)
//
// Source: McNemar (1947), Psychometrika 12:153-157; mid-p by Lancaster (1961). No
// changes: p is 1 and chi² not defined. Errors: ErrInput for negative counts.
func McNemar(b, c int) (Discordant, error) {
	if b < 0 || c < 0 {
		return Discordant{}, fmt.Errorf("%w: %d and %d changes", ErrInput, b, c)
	}
	var r Discordant
	n := float64(b + c)
	if n == 0 {
		r.Exact, r.Mid = quantity.Some(1), quantity.Some(1)
		r.Flags.Add(FlagNotDefined)
		return r, nil
	}
	d := distuv.Binomial{N: n, P: 0.5}
	tail := 0.0
	for k := 0; k <= min(b, c); k++ {
		tail += d.Prob(float64(k))
	}
	at := d.Prob(float64(min(b, c)))
	r.Exact, r.Mid = quantity.Some(math.Min(1, 2*tail)), quantity.Some(math.Min(1, 2*tail-at))
	if b == c { // the tails overlap in the middle term
		r.Exact, r.Mid = quantity.Some(1), quantity.Some(1-at/2)
	}
	x := math.Max(0, math.Abs(float64(b-c))-1)
	r.ChiSquared = quantity.Some(x * x / n)
	p, err := ChiSquaredUpper(x*x/n, 1)
	if err != nil {
		return r, err
	}
	r.P = quantity.Some(p)
	return r, nil
}
