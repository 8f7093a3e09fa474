package infiltration

import (
	"math"
	"slices"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// leastSum is the sum of squares over the errors, per interval, that is taken for
// an exact fit: a millionth of an error is nothing that anyone read.
const leastSum = 1e-12

// aiccOf is the corrected information criterion of Hurvich & Tsai (1989,
// Biometrika 76:297-307),
//
//	AICc = n ln(RSS/n) + 2 p + 2 p (p + 1)/(n - p - 1),
//
// with p parameters, that of the error variance among them; none for n <= p + 1.
func aiccOf(rss float64, n, p int) quantity.Optional {
	if n <= p+1 {
		return quantity.None()
	}
	m, k := float64(n), float64(p)
	return quantity.Some(m*math.Log(max(rss/m, leastSum)) + 2*k + 2*k*(k+1)/(m-k-1))
}

// forms is how well the forms of curve, the models, bear the intervals against one
// another.
type forms struct {
	weights []float64 // nil where a model could not be fitted
	excess  []float64 // of the criterion over the least one of a form that bends
	scatter float64   // variance inflation
	limit   float64   // of the excess at the level
}

// compare weighs the models with
//
//	QAIC = chi2/c + 2 p,  w = exp(-d/2) / sum exp(-d/2),  d = QAIC - the least QAIC
//
// (Burnham & Anderson 2002, sections 2.5 and 2.9), with p parameters. The errors of
// the intervals are known, and so is their likelihood: the small-sample term of
// AICc stands for the estimation of a variance that is not estimated here. c is the
// variance inflation, chi-square over the degrees of freedom of the model in which
// that is least, and at least 1. Where a model could not be fitted, for too few
// intervals, there are no weights: the ones left would be those with fewest parameters.
func (in *Input) compare(fits []minimum) forms {
	f := forms{scatter: math.Inf(1)}
	df := 0
	for n := range fits {
		if fits[n].refused != nil {
			return forms{}
		}
		if s := fits[n].scatter(); s < f.scatter {
			f.scatter, df = s, fits[n].n-fits[n].k
		}
	}
	f.limit = in.room(f.scatter, df)
	f.scatter = max(f.scatter, 1)
	f.limit /= f.scatter
	least, bent := math.Inf(1), math.Inf(1)
	for n := range fits {
		q := fits[n].least.Sum/f.scatter + 2*float64(fits[n].k)
		f.excess = append(f.excess, q)
		least = min(least, q)
		if fits[n].bends() {
			bent = min(bent, q)
		}
	}
	sum := 0.0
	for n := range f.excess {
		f.weights = append(f.weights, math.Exp((least-f.excess[n])/2))
		f.excess[n] -= bent
		sum += f.weights[n]
	}
	for n := range f.weights {
		f.weights[n] /= sum
	}
	return f
}

func (f *forms) known() bool { return f.weights != nil }

// excludes reports whether the intervals exclude a form against the best one.
func (f *forms) excludes(at int) bool { return f.known() && f.excess[at] >= f.limit }

// room is by how much the sum of squares of a form may exceed its own least one.
func (f *forms) room(at int) float64 { return (f.limit - f.excess[at]) * f.scatter }

// envelope gives the capacity at the end of rain the interval of all forms, and
// returns its limits: all values that some form reaches with
//
//	chi2/c + 2 p <= the least QAIC + q^2,
//
// among the forms that bend: a constant rate is each of them without decline, and its claim that nothing
// declines must not narrow theirs.
// This is the profile likelihood with the form as one more parameter (Dauncey et al. 2015,
// J. Instrum. 10:P04015, the correction for parameters being Akaike's). The interval of a form by
// itself says nothing of the forms that it is not. The errors that all intervals share are
// added to the rows.
func (in *Input) envelope(fits []ModelFit) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for n := range fits {
		if end := fits[n].row(CapacityAtEnd); end.Low.OK && end.High.OK {
			low, high = min(low, end.Low.V), max(high, end.High.V)
		}
	}
	for n := range fits {
		if end := fits[n].row(CapacityAtEnd); end.Low.OK && end.High.OK {
			e := in.finish(end.Value.V, (high-low)/(2*in.z()), low, high)
			end.Low, end.High, end.U = e.Low, e.High, e.U
		}
	}
	return low, high
}

// average returns the capacity at the end of rain, averaged over the models with
// their weights, with the interval of all forms and the errors that all intervals
// share.
func (in *Input) average(fits []ModelFit) result.Estimate {
	low, high := in.envelope(fits)
	if !fits[0].Weight.OK || low > high {
		var e result.Estimate
		e.Flags.Add(fits[0].Flags...)
		e.Flags.Add(FlagNotIdentifiable)
		return e
	}
	value := 0.0
	for k := range fits {
		value += fits[k].Weight.V * fits[k].row(CapacityAtEnd).Value.V
	}
	low, high = min(low, value), max(high, value)
	e := in.finish(value, (high-low)/(2*in.z()), low, high)
	e.N = fits[0].N
	for _, flag := range []string{FlagStartMoved, FlagOverflow, FlagExtrapolated} {
		if fits[0].Flags.Has(flag) {
			e.Flags.Add(flag)
		}
	}
	if !slices.ContainsFunc(fits, func(f ModelFit) bool { return !f.Flags.Has(FlagScatter) }) {
		e.Flags.Add(FlagScatter)
	}
	return e
}

// row returns the row of a name; an empty one where there is none.
func (f *ModelFit) row(name string) *Parameter {
	for n := range f.Parameters {
		if f.Parameters[n].Name == name {
			return &f.Parameters[n]
		}
	}
	return &Parameter{}
}
