package cli

import (
	"context"
	"sync/atomic"

	"golang.org/x/sync/errgroup"

	"sheetwash/analysis"
	"sheetwash/analysis/result"
	"sheetwash/api/batch"
)

// analyse computes the parts of the datasets that stand, several at a time, and
// folds them up. Parts that a stopped run has finished are taken from its
// checkpoints.
func (j *job) analyse(ctx context.Context, s *streams, all *batch.Season, bar *progress) (*result.Analysis, error) {
	accepted := len(all.Datasets) - all.Refused()
	calibrations := batch.Calibrations(all.Datasets)
	keep, err := j.checkpoints(all)
	if err != nil {
		return nil, err
	}
	parts := make([]*analysis.Part, len(all.Datasets))
	var done atomic.Int64
	bar.analysing(0, accepted)
	g, within := errgroup.WithContext(ctx)
	g.SetLimit(j.Workers)
	for i := range all.Datasets {
		d := &all.Datasets[i]
		if !d.Stands() {
			continue
		}
		g.Go(func() error {
			part, ok := keep.load(d, j.Plan(d))
			if !ok {
				p, err := j.Analyse(within, d, calibrations)
				if err != nil {
					return err
				}
				part = &p
				if err := keep.save(d, j.Plan(d), part); err != nil {
					return onDisk(err)
				}
			}
			parts[i] = part
			bar.analysing(int(done.Add(1)), accepted)
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
	return j.Fold(finished, all.Findings())
}

// exitOf is 0 where every dataset stands, 3 where none does, 4 otherwise. That
// nothing was found is a refusal too.
func exitOf(all *batch.Season) int {
	switch refused := all.Refused(); {
	case len(all.Datasets) == 0, refused == len(all.Datasets):
		return exitRefused
	case refused > 0:
		return exitPartly
	}
	return exitDone
}
