package inference

import (
	"fmt"
	"math"
	"slices"

	"sheetwash/analysis/quantity"
)

// Survival is the share of units to which the event has not happened yet, as a
// step function of time. A unit that was followed without the event until some
// time is right-censored at that time.
type Survival struct {
	Steps  []SurvivalStep // one per distinct time, ascending
	N      int            // units
	Events int            // units to which the event happened
	Level  float64
}

// SurvivalStep is the curve from one time until the next.
type SurvivalStep struct {
	Time                  float64
	AtRisk, Events        int
	Share                 float64           // S(Time)
	SE                    quantity.Optional // Greenwood's; missing where S is 0
	Low, High             quantity.Optional // log-log interval; missing where S is 0 or 1
	LowLog, HighLog       quantity.Optional // log interval, for comparison
	varianceOfLog, hazard float64           // sum and term of d/(r(r-d))
}

// KaplanMeier returns the product-limit estimate of the survival curve.
//
//	S(t) = prod over t_i <= t of (1 - d_i/r_i)
//	var S(t) = S(t)² sum d_i/(r_i (r_i - d_i))
//	limits: S^exp(± z sqrt(sum)/ln S)
//
// A unit censored at the time of an event is at risk in it. Times carry any
// unit. Source: Kaplan & Meier (1958), Journal of the American Statistical
// Association 53:457-481; variance by Greenwood (1926); log-log limits by
// Kalbfleisch & Prentice (1980). Errors: ErrInput for NaN, negative times, unlike
// lengths or the level.
func KaplanMeier(time []float64, event []bool, level float64) (Survival, error) {
	if err := checkTimes(time, event); err != nil {
		return Survival{}, err
	}
	if err := checkLevel(level); err != nil {
		return Survival{}, err
	}
	order := byTime(time)
	s := Survival{N: len(time), Level: level, Steps: make([]SurvivalStep, 0, len(time))}
	z := criticalNormal(level)
	share, sum := 1.0, 0.0
	for i := 0; i < len(order); {
		t := time[order[i]]
		step := SurvivalStep{Time: t, AtRisk: len(order) - i}
		for ; i < len(order) && time[order[i]] == t; i++ {
			if event[order[i]] {
				step.Events++
			}
		}
		r, d := float64(step.AtRisk), float64(step.Events)
		share *= (r - d) / r
		if r > d {
			step.hazard = d / (r * (r - d))
		}
		sum += step.hazard
		step.Share, step.varianceOfLog = share, sum
		step.limits(z)
		s.Events += step.Events
		s.Steps = append(s.Steps, step)
	}
	return s, nil
}

func (s *SurvivalStep) limits(z float64) {
	if s.Share == 0 {
		return
	}
	se := math.Sqrt(s.varianceOfLog)
	s.SE = quantity.Some(s.Share * se)
	s.LowLog = quantity.Some(s.Share * math.Exp(-z*se))
	s.HighLog = quantity.Some(min(1, s.Share*math.Exp(z*se)))
	if s.Share == 1 {
		return
	}
	l := math.Log(s.Share)
	s.Low = quantity.Some(math.Pow(s.Share, math.Exp(-z*se/l)))
	s.High = quantity.Some(math.Pow(s.Share, math.Exp(z*se/l)))
}

// At returns the step that holds at a time; before the first, a share of one.
func (s Survival) At(time float64) SurvivalStep {
	at := SurvivalStep{Time: 0, AtRisk: s.N, Share: 1, SE: quantity.Some(0)}
	for _, step := range s.Steps {
		if step.Time > time {
			break
		}
		at = step
	}
	return at
}

// Quantile returns the time by which the share p has had the event, with the
// interval that inverts the log-log limits of the curve. Quantile(0.5) is the
// median. Where the curve is flat at exactly 1-p it is the middle of that stretch
// (up to the last time followed, if the stretch is the last; flag curve_ends).
// Curve or limits that don't fall so far: missing, with a flag.
//
// Source: Brookmeyer & Crowley (1982), Biometrics 38:29-41.
func (s Survival) Quantile(p float64) Interval {
	r := Interval{Level: s.Level, N: s.N}
	switch {
	case s.N == 0:
		r.Flags.Add(FlagNoData)
		return r
	case s.Events == 0:
		r.Flags.Add(FlagAllCensored, FlagNotReached)
		return r
	}
	var ends bool
	share := func(st SurvivalStep) quantity.Optional { return quantity.Some(st.Share) }
	r.Value, ends = s.crossing(1-p, share)
	if !r.Value.OK {
		r.Flags.Add(FlagNotReached)
	}
	if ends {
		r.Flags.Add(FlagCurveEnds)
	}
	r.Low, _ = s.crossing(1-p, func(st SurvivalStep) quantity.Optional { return st.Low })
	r.High, _ = s.crossing(1-p, func(st SurvivalStep) quantity.Optional { return st.High })
	if r.Low.OK && r.High.OK && r.Low.V == r.High.V {
		r.Low, r.High = quantity.None(), quantity.None()
		r.Flags.Add(FlagNoSpread)
	}
	if !r.Low.OK && !r.High.OK && !r.Flags.Has(FlagNoSpread) {
		r.Flags.Add(FlagNoLowerLimit, FlagNoUpperLimit)
	}
	r.open()
	return r
}

// crossing returns the first time at which the curve is below target, or the
// middle of the stretch on which it equals target; ends tells that this stretch
// is the curve's last.
func (s Survival) crossing(target float64, curve func(SurvivalStep) quantity.Optional) (at quantity.Optional, ends bool) {
	const tolerance = 1.5e-8 // on shares, for products that miss k/n by rounding
	var flatFrom quantity.Optional
	for _, step := range s.Steps {
		v := curve(step)
		switch {
		case !v.OK:
			continue
		case v.V < target-tolerance:
			if flatFrom.OK {
				return quantity.Some((flatFrom.V + step.Time) / 2), false
			}
			return quantity.Some(step.Time), false
		case v.V <= target+tolerance && !flatFrom.OK:
			flatFrom = quantity.Some(step.Time)
		}
	}
	if flatFrom.OK {
		return quantity.Some((flatFrom.V + s.Steps[len(s.Steps)-1].Time) / 2), true
	}
	return quantity.None(), false
}

func byTime(time []float64) []int {
	order := make([]int, len(time))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case time[a] < time[b]:
			return -1
		case time[a] > time[b]:
			return 1
		}
		return 0
	})
	return order
}

func checkTimes(time []float64, event []bool) error {
	if err := checkLengths("time", "event", len(time), len(event)); err != nil {
		return err
	}
	if err := checkFinite("time", time); err != nil {
		return err
	}
	for i, t := range time {
		if t < 0 {
			return fmt.Errorf("%w: time[%d] is %v", ErrInput, i, t)
		}
	}
	return nil
}
