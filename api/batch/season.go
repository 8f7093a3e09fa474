package batch

import (
	"context"
	"slices"
	"strings"
	"sync/atomic"

	"golang.org/x/sync/errgroup"

	"sheetwash/analysis"
	"sheetwash/analysis/result"
	"sheetwash/ingest"
	"sheetwash/ingest/issue"
)

// Season is a season that has been read: its datasets in the order of their
// names, and the findings that belong to none of them.
type Season struct {
	Datasets []Dataset
	Loose    []result.Finding
}

// Refused counts the datasets with errors.
func (s *Season) Refused() int {
	n := 0
	for i := range s.Datasets {
		if !s.Datasets[i].Stands() {
			n++
		}
	}
	return n
}

// Findings returns everything that the checks found, in the order of the datasets.
func (s *Season) Findings() []result.Finding {
	all := slices.Clone(s.Loose)
	for i := range s.Datasets {
		all = append(all, s.Datasets[i].Findings...)
	}
	return all
}

// ReadSeason reads every dataset at the paths, several at a time. step is called
// with the number of datasets read so far, and how many there are. Datasets with
// errors are refused and the others read; the error is for paths that do not exist, a
// mapping that does not hold, and ctx.
func (q Request) ReadSeason(ctx context.Context, paths []string, find ingest.FindOptions, step func(done, total int)) (*Season, error) {
	find.Mapping, find.Limits = q.Mapping, q.Limits
	sources, unclaimed, err := ingest.Find(paths, find)
	if err != nil {
		return nil, err
	}
	defer closeAll(sources)
	sources, own := withoutResults(sources)
	out := &Season{Datasets: make([]Dataset, len(sources)), Loose: append(rows("", unclaimed.All()), own...)}
	var done atomic.Int64
	step(0, len(sources))
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(max(1, q.Workers))
	for i, src := range sources {
		g.Go(func() error {
			d, err := q.Read(ctx, src)
			out.Datasets[i] = d
			step(int(done.Add(1)), len(sources))
			return err
		})
	}
	if err := g.Wait(); err != nil {
		return nil, err
	}
	calibrations := Calibrations(out.Datasets)
	for i := range out.Datasets {
		out.Datasets[i].RefuseUncalibrated(calibrations)
	}
	return out, nil
}

func closeAll(sources []ingest.Source) {
	for _, src := range sources {
		_ = src.Close() // only removes a temporary copy
	}
}

// withoutResults leaves out the folders that hold result tables of ours, which may
// well lie below the folder of the data, and notes each.
func withoutResults(sources []ingest.Source) (data []ingest.Source, notes []result.Finding) {
	for _, src := range sources {
		if !holdsTable(src, "hydrograph") || !holdsTable(src, "plot_results") {
			data = append(data, src)
			continue
		}
		notes = append(notes, rows(src.Name, []issue.Issue{{
			Code: datasetResults, Severity: issue.Note, Message: "this folder holds result tables and is not read as data",
		}})...)
	}
	return data, notes
}

func holdsTable(src ingest.Source, table string) bool {
	return slices.ContainsFunc(src.Files(), func(name string) bool { return strings.HasPrefix(name, table+".") })
}

// AnalyseSeason computes the rows of every dataset that stands and folds them up.
// Errors: analysis.ErrPlan, and that of ctx.
func (q Request) AnalyseSeason(ctx context.Context, s *Season) (*result.Analysis, error) {
	calibrations := Calibrations(s.Datasets)
	var parts []analysis.Part
	for i := range s.Datasets {
		if !s.Datasets[i].Stands() {
			continue
		}
		p, err := q.Analyse(ctx, &s.Datasets[i], calibrations)
		if err != nil {
			return nil, err
		}
		parts = append(parts, p)
	}
	return q.Fold(parts, s.Findings())
}
