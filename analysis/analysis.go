package analysis

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"golang.org/x/sync/errgroup"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/rainfall"
	"sheetwash/analysis/result"
	"sheetwash/analysis/season"
)

// Part is what one dataset contributes to an analysis.
type Part struct {
	Dataset      string
	Reference    string // treatment that its plan names
	Hydrograph   []result.Course
	Plots        []result.PlotRow
	Fits         []result.FitRow
	Calibrations []result.CalibrationRow
	Cover        []CoverPair
}

// Analyze analyses a season of datasets. Findings are left empty: they are what
// reading the files found, and the caller has them.
//
// Rows come in the order of the datasets' names, runs, plots, metrics and
// methods, whatever the order of the arguments and the number of workers.
// Errors: ErrPlan, and that of ctx.
func Analyze(ctx context.Context, datasets []*experiment.Dataset, plan Plan) (*result.Analysis, error) {
	calibrations := Calibrations(datasets)
	parts := make([]Part, len(datasets))
	for i, d := range datasets {
		p, err := Dataset(ctx, d, calibrations, plan)
		if err != nil {
			return nil, err
		}
		parts[i] = p
	}
	return Fold(parts, plan)
}

// Calibrations gathers the catch-can calibrations of a season: a run takes the
// newest one of its simulator, whichever dataset that is in.
func Calibrations(datasets []*experiment.Dataset) []rainfall.Calibration {
	ordered := slices.Clone(datasets)
	slices.SortStableFunc(ordered, func(a, b *experiment.Dataset) int { return strings.Compare(a.Name(), b.Name()) })
	var all []rainfall.Calibration
	for _, d := range ordered {
		all = append(all, rainfall.Calibrations(d.Name(), d.Cans())...)
	}
	return all
}

// chunk is how many plots a worker takes at a time.
const chunk = 64

// Dataset analyses the plots of one dataset, given the calibrations of its season.
func Dataset(ctx context.Context, d *experiment.Dataset, calibrations []rainfall.Calibration, plan Plan) (Part, error) {
	plan, err := plan.checked()
	if err != nil {
		return Part{}, err
	}
	all := sites(d, plan)
	sides := make([]alongside, len(all))
	slots := make([]Part, (len(all)+chunk-1)/chunk)
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(plan.Workers)
	for i := range slots {
		g.Go(func() error {
			if err := ctx.Err(); err != nil {
				return err
			}
			for k := i * chunk; k < min(len(all), (i+1)*chunk); k++ {
				sides[k] = all[k].analyse(calibrations, plan, &slots[i])
				sides[k].slot = i
			}
			return nil
		})
	}
	if err := g.Wait(); err != nil {
		return Part{}, err
	}
	cover := completeRuns(d, slots, sides, plan)
	part := join(slots)
	part.Cover = cover
	part.Dataset, part.Reference = d.Name(), plan.Reference
	own := rainfall.Calibrations(d.Name(), d.Cans())
	part.Calibrations = rainfall.CalibrationRows(own, calibrations, d.Rigs(), plan.Rain)
	return part, nil
}

// sites lists the plots of a dataset with what each needs of the others.
func sites(d *experiment.Dataset, plan Plan) []site {
	var all []site
	runs := d.Runs()
	with := sharedBy(runs)
	for r := range runs {
		paired := compared(&runs[r], &plan)
		for p := range runs[r].Plots {
			all = append(all, site{dataset: d, run: &runs[r], plot: &runs[r].Plots[p], paired: paired != nil && paired[p], with: with})
		}
	}
	return all
}

// completeRuns completes the rows that need the other plots of their run, and returns the
// plots that were set against bare ones.
func completeRuns(d *experiment.Dataset, slots []Part, sides []alongside, plan Plan) []CoverPair {
	var pairs []CoverPair
	runs := d.Runs()
	for r := range runs {
		n := len(runs[r].Plots)
		whole := ofRun{plots: runs[r].Plots, sides: sides[:n], plan: plan, points: d.Errors().CoverPoints, rows: make([][]result.PlotRow, n)}
		for i, s := range sides[:n] {
			whole.rows[i] = slots[s.slot].Plots[s.first:s.end]
		}
		whole.complete()
		for _, p := range whole.cover {
			p.Dataset, p.Season, p.Run = d.Name(), runs[r].Season, runs[r].ID
			pairs = append(pairs, p)
		}
		sides = sides[n:]
	}
	return pairs
}

// join puts the rows of parts one behind the other.
func join(parts []Part) Part {
	if len(parts) == 1 {
		return parts[0]
	}
	var n Part
	var hydrograph, plots, fits, calibrations int
	for _, p := range parts {
		hydrograph += len(p.Hydrograph)
		plots += len(p.Plots)
		fits += len(p.Fits)
		calibrations += len(p.Calibrations)
	}
	n.Hydrograph = slices.Grow(n.Hydrograph, hydrograph)
	n.Plots = slices.Grow(n.Plots, plots)
	n.Fits = slices.Grow(n.Fits, fits)
	n.Calibrations = slices.Grow(n.Calibrations, calibrations)
	for _, p := range parts {
		n.Hydrograph = append(n.Hydrograph, p.Hydrograph...)
		n.Plots = append(n.Plots, p.Plots...)
		n.Fits = append(n.Fits, p.Fits...)
		n.Calibrations = append(n.Calibrations, p.Calibrations...)
		n.Cover = append(n.Cover, p.Cover...)
	}
	return n
}

// season is the plan of what is said of treatments.
func (p Plan) season(parts []Part) season.Settings {
	return season.Settings{Level: p.Level, Workers: p.Workers, Reference: p.Reference, Preferred: preferred(parts)}
}

// preferred is the reference that all parts with one name, "" where they disagree.
func preferred(parts []Part) string {
	name := ""
	for _, p := range parts {
		if p.Reference == "" {
			continue
		}
		if name != "" && name != p.Reference {
			return ""
		}
		name = p.Reference
	}
	return name
}

// Fold joins the parts of a season, estimates its treatments and compares them. Errors: ErrPlan.
func Fold(parts []Part, plan Plan) (*result.Analysis, error) {
	plan, err := plan.checked()
	if err != nil {
		return nil, err
	}
	parts = slices.Clone(parts)
	slices.SortStableFunc(parts, func(a, b Part) int { return strings.Compare(a.Dataset, b.Dataset) })
	all := join(parts)
	treatments, comparisons, err := season.Summarise(all.Plots, plan.season(parts))
	switch {
	case errors.Is(err, season.ErrReference):
		return nil, fmt.Errorf("%w: %w", ErrPlan, err)
	case err != nil:
		return nil, fmt.Errorf("treatments: %w", err)
	}
	return &result.Analysis{
		Hydrograph: all.Hydrograph, Plots: all.Plots, Fits: all.Fits, Calibrations: all.Calibrations,
		Treatments: treatments, Comparisons: comparisons, Season: seasonRows(all.Cover, plan.Level),
	}, nil
}
