package inference

import (
	"fmt"
	"math"

	"sheetwash/analysis/quantity"
)

// RestrictedMean returns the mean of min(time, tau): the area under the curve
// up to tau, the last share standing until tau where the curve ends before.
//
//	mu = integral 0..tau of S(t) dt
//	SE² = sum over t_i <= tau of (integral t_i..tau of S)² d_i/(r_i (r_i - d_i))
//	interval: logit(mu/tau) ± t(m-1) SE sqrt(m/(m-1)) / (tau p (1-p)),  p = mu/tau
//
// m counts the units followed to tau or to their event. SE is the large-sample
// one; the factor m/(m-1) is that of Kaplan & Meier (1958) with units followed in
// place of events, and makes SE that of the sample min(time, tau)
// where nothing is censored before tau. On the logit scale the limits stay
// within 0 and tau and keep their coverage where few units had the event; on
// the natural scale they miss too often (measured in docs/methods/inference.md).
//
// Source: Kaplan & Meier (1958); Irwin (1949), Journal of Hygiene 47:188-189;
// delta method on the logit as Meeker, Hahn & Escobar (2017), Statistical Intervals, 2nd
// ed., for a parameter between 0 and 1. Departure: t for z and m, for small samples.
// No event by tau: value tau, no interval, flag all_censored. Errors: ErrInput
// unless tau is positive and finite.
func (s Survival) RestrictedMean(tau float64) (Interval, error) {
	if !(tau > 0) || math.IsInf(tau, 1) {
		return Interval{}, fmt.Errorf("%w: restriction to %v", ErrInput, tau)
	}
	r := Interval{Level: s.Level, N: s.N}
	if s.N == 0 {
		r.Flags.Add(FlagNoData)
		return r, nil
	}
	mu, v, events, followed := s.area(tau)
	r.Value = quantity.Some(mu)
	r.SE = quantity.Some(math.Sqrt(v))
	m := float64(followed)
	switch {
	case events == 0:
		r.Flags.Add(FlagAllCensored)
	case followed < 2:
		r.Flags.Add(FlagOneValue)
	case !spread(mu, r.SE.V) || !(mu > 0 && mu < tau):
		r.Flags.Add(FlagNoSpread)
	default:
		r.DF = quantity.Some(m - 1)
		p := mu / tau
		logit := math.Log(p / (1 - p))
		h := critical(s.Level, m-1) * r.SE.V * math.Sqrt(m/(m-1)) / (tau * p * (1 - p))
		r.Low, r.High = quantity.Some(tau/(1+math.Exp(h-logit))), quantity.Some(tau/(1+math.Exp(-h-logit)))
	}
	return r, nil
}

// area returns the area under the curve up to tau, its variance, the events by
// tau and the units not censored before tau.
func (s Survival) area(tau float64) (mu, variance float64, events, followed int) {
	steps := s.Steps
	for len(steps) > 0 && steps[len(steps)-1].Time > tau {
		steps = steps[:len(steps)-1]
	}
	followed = s.N
	to := tau
	for i := len(steps) - 1; i >= 0; i-- { // from the right: mu is the area beyond the step
		step := steps[i]
		mu += step.Share * (to - step.Time)
		variance += mu * mu * step.hazard
		to = step.Time
		events += step.Events
		if step.Time < tau {
			next := 0
			if i+1 < len(s.Steps) {
				next = s.Steps[i+1].AtRisk
			}
			followed -= step.AtRisk - step.Events - next
		}
	}
	return mu + to, variance, events, followed
}
