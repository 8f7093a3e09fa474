package analysis

import (
	"errors"
	"fmt"

	"sheetwash/analysis/hydrograph"
	"sheetwash/analysis/infiltration"
	"sheetwash/analysis/rainfall"
)

// Plan says how to analyse. The measurement errors are not part of it: they
// belong to a dataset's instruments and travel with it.
type Plan struct {
	Level      float64 // of intervals, 0.80 to 0.99
	Workers    int     // goroutines; no result depends on it. 0: one
	Rain       rainfall.Settings
	Hydrograph hydrograph.Settings
	Steady     infiltration.Tolerance
	Models     bool // fit every infiltration model, which takes thirty times as long as the steady rate
	// BareCoverPct is the cover up to which soil is bare, %: common practice, no source.
	BareCoverPct float64
	Reference    string // treatment that others are compared with and soil loss ratios refer to; "": by the documented rule, and the bare plots of each run
}

// DefaultPlan returns 95 % intervals and each method's own defaults.
func DefaultPlan() Plan {
	return Plan{
		Level: 0.95, Workers: 1,
		Rain: rainfall.DefaultSettings(), Hydrograph: hydrograph.DefaultSettings(), Steady: infiltration.DefaultTolerance(),
		BareCoverPct: 5,
	}
}

// ErrPlan is returned for a plan that cannot be followed.
var ErrPlan = errors.New("plan")

// checked returns the plan with its level handed to the methods.
func (p Plan) checked() (Plan, error) {
	if !(p.Level >= 0.80 && p.Level <= 0.99) {
		return p, fmt.Errorf("%w: level %v is not from 0.80 to 0.99", ErrPlan, p.Level)
	}
	p.Workers = max(1, p.Workers)
	p.Rain.Level, p.Hydrograph.Level = p.Level, p.Level
	return p, nil
}
