package balance

import (
	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// The methods of storage and closure.
const (
	MethodClosure  = "rain_minus_all_terms"
	MethodResidual = "storage_plus_error" // P - Q - D - L where storage was not measured
)

// Water is a depth of water that left the plot.
type Water struct {
	DepthMM, UMM float64 // u without the area's error, which all that was caught shares
	Known        bool    // measured; else nothing is said of it, and it is not zero
	LowerBound   bool    // overflow, spilled or leak: more left
	Truncated    bool    // not caught to its end
}

// Rain is the rain of the plot.
type Rain struct {
	DepthMM float64
	// UShared is the standard uncertainty that all plots of the run have in common, U
	// the plot's own, with DFShared and DF degrees of freedom (0: known). mm.
	UShared, DFShared, U, DF float64
}

// Input is the water balance of one plot.
type Input struct {
	Rain             Rain
	Runoff, Drainage Water
	Splash, Edge     Water   // splash caught beside the plot, and what left over its edges
	Gains            []Gain  // of water in the soil, the best first; none: not measured
	UAreaRel         float64 // relative standard uncertainty of the area
	RunBefore        bool    // the soil was rained on before, so that its drain may still run
	Level            float64
}

// Balance is what the terms say together.
type Balance struct {
	// Closure is rain minus all terms; without a value where storage or drainage was not
	// measured.
	Closure result.Estimate
	// Residual is storage plus error, where drainage was measured and storage was not.
	Residual result.Estimate
	Gains    []Gain
	Verdict  Verdict
	input    Input
}

// Of returns the water balance of a plot.
//
//	c = P - Q - D - S - L,  u(c)^2 = u(P)^2 + u(Q)^2 + u(D)^2 + u(S)^2 + u(L)^2 + (u_A (Q + D + L + S'))^2
//
// rain P, runoff Q, drainage D, storage S measured in the soil, losses L by splash and
// over the edges, all in mm. Q, D and L are volumes over one area, and so is the part S' of a
// storage that was weighed: the area's relative error u_A is common to them. Without a measured storage P - Q - D - L is
// storage plus error, and says nothing of closure; without a measured drainage neither can be told.
//
// A value within its error of zero stays as it is. Source: conservation of mass; [GUM2008] 5.1.2 and 5.2.2.
func Of(in Input) Balance {
	b := Balance{Gains: in.Gains, input: in}
	b.Verdict = in.judge()
	words := b.Verdict.Words()
	switch {
	case !in.Runoff.Known:
		b.Closure, b.Residual = missing("runoff_not_measured"), missing("runoff_not_measured")
	case !in.Drainage.Known:
		b.Closure, b.Residual = missing("drainage_not_measured"), missing("drainage_not_measured")
		b.Closure.Flags.Add(words...)
	case len(in.Gains) == 0:
		b.Closure = missing("storage_not_measured")
		b.Closure.Flags.Add(words...)
		b.Residual = in.estimate(in.terms(false))
		b.Residual.Flags.Add("storage_plus_error")
		b.Residual.Flags.Add(words...)
	default:
		b.Closure = in.estimate(in.terms(true))
		b.Closure.Flags.Add(words...)
		b.Residual = missing("storage_plus_error")
	}
	return b
}

// terms are the terms of the balance, rain first, with their signs.
func (in *Input) terms(storage bool) []gum.Input {
	out := append(make([]gum.Input, 0, 8),
		gum.Input{Name: "rain", Unit: "mm", Value: in.Rain.DepthMM, U: in.Rain.UShared, DF: in.Rain.DFShared, Common: true},
		gum.Input{Name: "rain at the plot's place", Unit: "mm", U: in.Rain.U, DF: in.Rain.DF},
		gum.Input{Name: "runoff", Unit: "mm", Value: in.Runoff.DepthMM, U: in.Runoff.UMM},
		gum.Input{Name: "drainage", Unit: "mm", Value: in.Drainage.DepthMM, U: in.Drainage.UMM},
		gum.Input{Name: "splash and edge loss", Unit: "mm", Value: in.Splash.DepthMM + in.Edge.DepthMM, U: gum.Combined(in.Splash.UMM, in.Edge.UMM)},
		gum.Input{Name: "area over stated area", Unit: "1", Value: 1, U: in.UAreaRel})
	if storage && len(in.Gains) > 0 {
		g := in.Gains[0]
		out = append(out, gum.Input{Name: "storage", Unit: "mm", Value: g.DepthMM, U: g.UMM})
	}
	return out
}

// model is the closure of the terms. weighed says that the storage is a mass over the area.
func model(weighed bool) gum.Model {
	return func(x []float64) (float64, bool) {
		if !(x[5] > 0) {
			return 0, false
		}
		c := x[0] + x[1] - (x[2]+x[3]+x[4])/x[5]
		if len(x) > 6 {
			s := x[6]
			if weighed {
				s /= x[5]
			}
			c -= s
		}
		return c, true
	}
}

func (in *Input) weighed() bool { return len(in.Gains) > 0 && in.Gains[0].Weighed }

func (in *Input) estimate(terms []gum.Input) result.Estimate {
	r, ok := gum.Propagate(model(in.weighed()), terms, in.Level, gum.Unbounded())
	if !ok {
		return missing("not_defined")
	}
	e := result.Estimate{Value: quantity.Some(r.Value), U: quantity.Some(r.U), UShared: quantity.Some(r.UCommon),
		Low: quantity.Some(r.Low), High: quantity.Some(r.High), Censored: result.Observed, N: 1}
	if in.bounded() { // more left than was caught, so less is unaccounted for
		e.Censored, e.Low = result.Left, quantity.None()
		e.Flags.Add("upper_bound")
	}
	if in.Drainage.Truncated {
		e.Flags.Add("drainage_truncated")
	}
	return e
}

// bounded reports whether a term is only a lower bound.
func (in *Input) bounded() bool {
	return in.Runoff.LowerBound || in.Drainage.LowerBound || in.Splash.LowerBound
}

func missing(word string) result.Estimate { return result.Estimate{Flags: result.Flags{word}} }
