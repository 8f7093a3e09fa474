package page

import (
	"slices"

	"sheetwash/analysis/result"
)

// Piece is an analysis of which the rows of some datasets are wanted.
type Piece struct {
	Input    *Input
	Datasets []string // nil: all of them
}

// Joined is the input of pages over several analyses: of each the rows of its
// datasets, and of the last the rows over datasets, its settings and its program. It
// shares what the pieces hold.
func Joined(pieces []Piece) Input {
	last := pieces[len(pieces)-1]
	out := *last.Input
	if len(pieces) == 1 && last.Datasets == nil {
		return out
	}
	all := &result.Analysis{Treatments: last.Input.Analysis.Treatments, Comparisons: last.Input.Analysis.Comparisons}
	out.Analysis, out.Datasets, out.Command = all, nil, ""
	for _, p := range pieces {
		wanted := func(dataset string) bool { return p.Datasets == nil || slices.Contains(p.Datasets, dataset) }
		a := p.Input.Analysis
		all.Findings = appendIf(all.Findings, a.Findings, func(r *result.Finding) bool { return wanted(r.Dataset) })
		all.Hydrograph = appendIf(all.Hydrograph, a.Hydrograph, func(r *result.Course) bool { return wanted(r.Dataset) })
		all.Plots = appendIf(all.Plots, a.Plots, func(r *result.PlotRow) bool { return wanted(r.Dataset) })
		all.Fits = appendIf(all.Fits, a.Fits, func(r *result.FitRow) bool { return wanted(r.Dataset) })
		all.Calibrations = appendIf(all.Calibrations, a.Calibrations, func(r *result.CalibrationRow) bool { return wanted(r.Dataset) })
		out.Datasets = appendIf(out.Datasets, p.Input.Datasets, func(d *Dataset) bool { return wanted(d.Name) })
	}
	return out
}

func appendIf[T any](to, from []T, want func(*T) bool) []T {
	for i := range from {
		if want(&from[i]) {
			to = append(to, from[i])
		}
	}
	return to
}
