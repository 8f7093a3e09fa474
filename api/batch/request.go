package batch

import (
	"cmp"
	"context"
	"time"

	"sheetwash/analysis"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/rainfall"
	"sheetwash/analysis/result"
	"sheetwash/ingest"
)

// Request says how datasets are read and analyzed. The zero value reads as their
// analysis.yaml says, and by the defaults where it is silent.
type Request struct {
	Workers int           // plots and files that are worked on at once; below 1: one
	Mapping string        // path of a mapping for every dataset; "": the one beside the data
	Level   float64       // of intervals; 0: as analysis.yaml says, else the default
	Errors  []Uncertainty // over those of analysis.yaml
	Models  bool          // fit every infiltration model
	// Reference is the treatment that others are compared with; "": as
	// analysis.yaml says, else by the documented rule.
	Reference string
	// ThresholdShare of the intensity, SmoothingMin and FinalMin are those of
	// analysis.yaml; missing: as it says, else the default.
	ThresholdShare, SmoothingMin, FinalMin quantity.Optional
	Zone                                   *time.Location // of stamps without an offset, where the files do not say; nil: UTC
	MaxRows                                int64          // rows of one table other than readings; 0: the default of ingest
	Limits                                 ingest.Limits  // of archives
	Checks                                 bool           // only findings and the structure are wanted: see ingest.Options
}

// Plan returns the plan of one dataset: the request over its analysis.yaml over
// the defaults.
func (q Request) Plan(d *Dataset) analysis.Plan {
	p := q.SeasonPlan()
	h, s := &p.Hydrograph, &d.Settings
	h.ThresholdShare = q.ThresholdShare.Or(s.ThresholdShare.Or(h.ThresholdShare))
	h.SlopeWindowMin = q.SmoothingMin.Or(s.SmoothingMin.Or(h.SlopeWindowMin))
	h.FinalWindowMin = q.FinalMin.Or(s.FinalMin.Or(h.FinalWindowMin))
	h.LeastPeakMin = s.LeastPeakMin.Or(h.LeastPeakMin)
	p.Steady.OfRate = s.SteadyShare.Or(p.Steady.OfRate)
	p.BareCoverPct = s.BareCoverPct.Or(p.BareCoverPct)
	if rule, ok := rainfall.ParseBoundary(s.LowQuarter); ok {
		p.Rain.Boundary = rule
	}
	p.Reference = cmp.Or(p.Reference, s.Reference)
	if q.Level == 0 {
		p.Level = d.Settings.Level.Or(p.Level)
	}
	return p
}

// SeasonPlan returns the plan of what joins the datasets.
func (q Request) SeasonPlan() analysis.Plan {
	p := analysis.DefaultPlan()
	p.Workers, p.Models, p.Reference = max(1, q.Workers), q.Models, q.Reference
	if q.Level != 0 {
		p.Level = q.Level
	}
	h := &p.Hydrograph
	h.ThresholdShare = q.ThresholdShare.Or(h.ThresholdShare)
	h.SlopeWindowMin = q.SmoothingMin.Or(h.SlopeWindowMin)
	h.FinalWindowMin = q.FinalMin.Or(h.FinalWindowMin)
	return p
}

// Analyse computes the rows of one dataset that stands. Errors: analysis.ErrPlan,
// and that of ctx.
func (q Request) Analyse(ctx context.Context, d *Dataset, calibrations []rainfall.Calibration) (analysis.Part, error) {
	return analysis.Dataset(ctx, d.Dataset, calibrations, q.Plan(d))
}

// Fold joins the parts of a season, estimates its treatments, and puts the
// findings with them. Errors: analysis.ErrPlan.
func (q Request) Fold(parts []analysis.Part, findings []result.Finding) (*result.Analysis, error) {
	a, err := analysis.Fold(parts, q.SeasonPlan())
	if err != nil {
		return nil, err
	}
	a.Findings = findings
	return a, nil
}
