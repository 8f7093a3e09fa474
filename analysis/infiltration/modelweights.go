package infiltration

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

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

// weigh gives the models their Akaike weights,
//
//	w = exp(-d/2) / sum exp(-d/2),  d = AICc - the least AICc
//
// (Burnham & Anderson 2002, section 2.9). Where so few intervals are left that
// some models have no AICc, those that do have it are the ones with fewest
// parameters, whatever the intervals look like: then none has a weight.
func weigh(fits []ModelFit) {
	least := math.Inf(1)
	for n := range fits {
		if !fits[n].AICc.OK {
			return
		}
		least = min(least, fits[n].AICc.V)
	}
	sum := 0.0
	for n := range fits {
		sum += math.Exp((least - fits[n].AICc.V) / 2)
	}
	for n := range fits {
		f := &fits[n]
		f.Weight = quantity.Some(math.Exp((least-f.AICc.V)/2) / sum)
		for k := range f.Parameters {
			f.Parameters[k].Weight = f.Weight
		}
	}
}

// average returns the capacity at the end of rain, averaged over the models with
// their weights. Its standard error is the unconditional one,
//
//	u = sum w sqrt(u_m^2 + (f_m - f)^2)
//
// (Burnham & Anderson 2002, eq. 4.9), to which come the errors that all intervals
// share.
func (in *Input) average(fits []ModelFit) result.Estimate {
	value, n := 0.0, 0
	any := false
	for k := range fits {
		f := &fits[k]
		if end := f.row(CapacityAtEnd); f.Weight.OK && end.Value.OK && end.U.OK {
			value += f.Weight.V * end.Value.V
			n, any = f.N, true
		}
	}
	if !any {
		var e result.Estimate
		e.Flags.Add(fits[0].Flags...)
		e.Flags.Add(FlagNotIdentifiable)
		return e
	}
	u := 0.0
	for k := range fits {
		f := &fits[k]
		if end := f.row(CapacityAtEnd); f.Weight.OK && end.Value.OK && end.U.OK {
			u += f.Weight.V * math.Hypot(end.U.V, end.Value.V-value)
		}
	}
	e := in.finish(value, u, in.tail(fits, -1, value, u), in.tail(fits, 1, value, u))
	e.N = n
	for _, flag := range []string{FlagStartMoved, FlagOverflow, FlagExtrapolated} {
		if fits[0].Flags.Has(flag) {
			e.Flags.Add(flag)
		}
	}
	return e
}

// row returns the row of a name; an empty one where there is none.
func (f *ModelFit) row(name string) Parameter {
	for n := range f.Parameters {
		if f.Parameters[n].Name == name {
			return f.Parameters[n]
		}
	}
	return Parameter{}
}

// sorptivity returns that of Philip's model.
func sorptivity(fits []ModelFit) result.Estimate {
	for n := range fits {
		if f := &fits[n]; f.Model == PhilipTwoTerm {
			s := f.row("S")
			return result.Estimate{Value: s.Value, U: s.U, Low: s.Low, High: s.High, N: s.N, Flags: s.Flags}
		}
	}
	return result.Estimate{}
}

// tail returns the limit of the averaged capacity on a side: where the tails of
// the models' distributions, weighted, leave (1 - level)/2 beyond it (Turek &
// Fletcher 2012, Comput. Stat. Data Anal. 56:2809-2815). Each model's is normal with
// the limit of its own interval at the level.
func (in *Input) tail(fits []ModelFit, sign, value, u float64) float64 {
	beyond := func(at float64) float64 {
		sum := 0.0
		for k := range fits {
			f := &fits[k]
			end := f.row(CapacityAtEnd)
			if !f.Weight.OK || !end.Value.OK || !end.U.OK {
				continue
			}
			limit := end.Low.V
			if sign > 0 {
				limit = end.High.V
			}
			if s := sign * (limit - end.Value.V) / in.z(); s > 0 {
				sum += f.Weight.V * distuv.UnitNormal.Survival(sign*(at-end.Value.V)/s)
			} else if sign*(end.Value.V-at) > 0 {
				sum += f.Weight.V
			}
		}
		return sum
	}
	inner, outer := value, value+sign*20*(u+1e-9)
	for range 60 {
		if mid := (inner + outer) / 2; beyond(mid) > (1-in.Level)/2 {
			inner = mid
		} else {
			outer = mid
		}
	}
	return outer
}
