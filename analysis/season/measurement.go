package season

import (
	"math"
	"slices"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// measured returns the standard uncertainty that the measurement gives the mean
// of the units, and the part of its variance that their scatter does not show.
//
//	u²      = sum(u_i² - s_i²)/n² + sum over runs of (sum of s_i in the run)²/n²
//	hidden  = sum over runs of ((sum of s_i)² - sum of s_i²) / (n (n-1))
//
// u_i is the uncertainty of a unit and s_i the part that it shares with all
// plots of its run, both as asked for by of. For values with covariances, E[s²/n] = var(mean) - mean
// covariance of pairs: what scatter hides is that mean, which is s² if all plots
// stood under one run and nothing if each stood under its own.
// Source: JCGM 100:2008 (GUM), 5.2.2, eq. 13. u is missing where a unit has none.
func (c *cell) measured(of func(unit) (u, shared float64, known bool)) (u quantity.Optional, hidden float64) {
	n := float64(len(c.units))
	if n == 0 {
		return quantity.None(), 0
	}
	type share struct {
		run         runKey
		sum, square float64
	}
	var runs []share
	at := map[runKey]int{} // once they are many
	var independent float64
	known := true
	const few = 8
	last := -1
	for _, v := range c.units {
		ui, si, ok := of(v)
		known = known && ok
		independent += max(0, ui*ui-si*si)
		if si == 0 {
			continue
		}
		if last < 0 || v.run != runs[last].run { // plots of a run follow each other as a rule
			if last = slices.IndexFunc(runs[:min(few, len(runs))], func(s share) bool { return s.run == v.run }); last < 0 {
				i, ok := at[v.run]
				if !ok {
					i = len(runs)
					runs = append(runs, share{run: v.run})
					if i >= few {
						at[v.run] = i
					}
				}
				last = i
			}
		}
		runs[last].sum += si
		runs[last].square += si * si
	}
	var shared float64
	for _, s := range runs {
		shared += s.sum * s.sum
		hidden += s.sum*s.sum - s.square
	}
	if n > 1 {
		hidden /= n * (n - 1)
	}
	if known {
		u = quantity.Some(math.Sqrt(independent+shared) / n)
	}
	return u, max(0, hidden)
}

// absolute gives a unit's uncertainties in the unit of its value.
func absolute(v unit) (u, shared float64, known bool) { return v.u, v.shared, v.hasU }

// relative gives them relative to a positive value.
func relative(v unit) (u, shared float64, known bool) {
	return v.u / v.value, v.shared / v.value, v.hasU
}

// until gives those of times up to tau: beyond it, and where a time is only
// bounded, nothing of the time itself enters the estimate.
func until(tau float64) func(unit) (u, shared float64, known bool) {
	return func(v unit) (u, shared float64, known bool) {
		if v.censored == result.Right || v.value > tau {
			return 0, 0, true
		}
		return absolute(v)
	}
}

// widen adds to the limits about a value an error of standard uncertainty u that
// is independent of them: distances combine in quadrature.
//
//	low = v - sqrt((v-low)² + (z u)²), high likewise
//
// Source: Zou & Donner (2008), Statistics in Medicine 27:1693-1702 (MOVER). Unlike the
// Welch-Satterthwaite formula this never narrows an interval by adding an error.
func widen(value float64, low, high quantity.Optional, zu float64) (lo, hi quantity.Optional) {
	lo = low.Map(func(l float64) float64 { return value - math.Hypot(value-l, zu) })
	hi = high.Map(func(h float64) float64 { return value + math.Hypot(h-value, zu) })
	return lo, hi
}
