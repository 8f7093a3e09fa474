package cli

import (
	"context"
	"sync/atomic"

	"golang.org/x/sync/errgroup"

	"sheetwash/analysis"
	"sheetwash/analysis/result"
)

// plan is the plan of one dataset: the command line over its analysis.yaml over
// the defaults.
func (j *job) plan(r dataset) analysis.Plan {
	p := analysis.DefaultPlan()
	p.Workers = j.jobs
	p.Level = r.settings.Level.Or(p.Level)
	p.Hydrograph.ThresholdShare = r.settings.ThresholdShare.Or(p.Hydrograph.ThresholdShare)
	p.Hydrograph.SlopeWindowMin = r.settings.SmoothingMin.Or(p.Hydrograph.SlopeWindowMin)
	p.Hydrograph.FinalWindowMin = r.settings.FinalMin.Or(p.Hydrograph.FinalWindowMin)
	if j.level > 0 {
		p.Level = j.level
	}
	return p
}

// seasonPlan is the plan of what joins the datasets.
func (j *job) seasonPlan() analysis.Plan { return j.plan(dataset{}) }

// analyse computes the parts of the datasets that stand, several at a time, and
// folds them up. Parts that a stopped run has finished are taken from its
// checkpoints.
func (j *job) analyse(ctx context.Context, s *streams, all *season, bar *progress) (*result.Analysis, error) {
	accepted := all.accepted()
	calibrations := analysis.Calibrations(accepted)
	keep, err := j.checkpoints(all)
	if err != nil {
		return nil, err
	}
	parts := make([]*analysis.Part, len(all.datasets))
	var done atomic.Int64
	bar.analysing(0, len(accepted))
	g, within := errgroup.WithContext(ctx)
	g.SetLimit(j.jobs)
	for i, r := range all.datasets {
		if r.Dataset == nil {
			continue
		}
		g.Go(func() error {
			part, ok := keep.load(r, j.plan(r))
			if !ok {
				p, err := analysis.Dataset(within, r.Dataset, calibrations, j.plan(r))
				if err != nil {
					return err
				}
				part = &p
				if err := keep.save(r, j.plan(r), part); err != nil {
					return onDisk(err)
				}
			}
			parts[i] = part
			bar.analysing(int(done.Add(1)), len(accepted))
			return nil
		})
	}
	if err := g.Wait(); err != nil {
		return nil, err
	}
	if n := keep.loaded(); n > 0 {
		s.say("Took %d finished datasets from the stopped run.", n)
	}
	var finished []analysis.Part
	for _, p := range parts {
		if p != nil {
			finished = append(finished, *p)
		}
	}
	return analysis.Fold(finished, j.seasonPlan())
}
