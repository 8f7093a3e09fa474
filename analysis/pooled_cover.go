package analysis

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"strconv"

	"sheetwash/analysis/erosion"
	"sheetwash/analysis/inference"
	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// CoverPair is a plot that was set against the bare plots of its run: what one
// point of the relation of soil loss to cover is.
type CoverPair struct {
	Dataset, Season, Run, Plot string
	Contrast                   float64 // cover of the plot minus that of the bare plots, %
	Ratio                      float64 // soil loss ratio; 0 where nothing was lost
	Bounded                    bool    // a jar overflowed: the ratio is a bound
}

// methodPooledCover is the method of the cover exponent of a season.
const methodPooledCover = "regression_over_runs"

// PooledCover returns the cover exponent of many pairs, 1/%.
//
//	-ln SLR = b dc within each run, through the origin: b_r = sum(dc y) / sum(dc^2), y = -ln SLR
//	b by random effects over runs: weights 1/(v_r + tau^2), v_r = s^2 / sum(dc^2), s^2 the scatter about the lines of all runs
//
// tau^2 by restricted maximum likelihood, limits by Hartung and Knapp with their
// floor and Student's t with one degree of freedom less than runs: the pairs of a run share its bare plots, so runs are what is repeated.
// Where no run has two pairs, b is the mean of the runs' and its limits are those of the mean.
// One run has the limits of its own line (flag one_run), one pair none (n_small).
// Pairs whose ratio is zero or a bound have no logarithm and are left out, counted by the flag left_out.
// Source: logarithm of the cover subfactor exp(-b c), [RUSLE703]; inference.Pool for the synthesis.
func PooledCover(pairs []CoverPair, level float64) result.SeasonRow {
	row := result.SeasonRow{Metric: result.CoverExponent, Method: methodPooledCover, Unit: "1/%", Level: level}
	runs, left := coverRuns(pairs)
	for _, r := range runs {
		row.NPlots += r.n
	}
	row.NRuns = len(runs)
	if left > 0 {
		row.Flags.Add("left_out=" + strconv.Itoa(left))
	}
	var squares, df float64
	for _, r := range runs {
		squares, df = squares+r.residual(), df+float64(r.n-1)
	}
	switch {
	case len(runs) == 0:
		row.Flags.Add("no_cover_contrast")
	case len(runs) == 1:
		ofOneRun(&row, &runs[0], df)
	case df > 0 && squares > 0:
		overRuns(&row, runs, squares/df)
	default:
		meanOfRuns(&row, runs)
	}
	return row
}

// coverRun is the line of one run.
type coverRun struct {
	n          int
	pairs      []CoverPair
	xx, xy, yy float64 // sums of contrast^2, contrast times y, y^2
}

func (r *coverRun) slope() float64 { return r.xy / r.xx }

// residual is the sum of squares about the line.
func (r *coverRun) residual() float64 { return max(0, r.yy-r.xy*r.xy/r.xx) }

// coverRuns sorts the pairs that have a logarithm and a contrast by runs, and
// counts those that a bound or a zero leaves out.
func coverRuns(pairs []CoverPair) (runs []coverRun, left int) {
	pairs = slices.Clone(pairs) // sums do not depend on the order of the datasets
	slices.SortStableFunc(pairs, func(a, b CoverPair) int { return cmp.Or(cmp.Compare(a.Dataset, b.Dataset), cmp.Compare(a.Run, b.Run)) })
	var last CoverPair
	for _, p := range pairs {
		switch {
		case p.Contrast < erosion.LeastContrast:
			continue
		case p.Bounded || !(p.Ratio > 0):
			left++
			continue
		}
		if len(runs) == 0 || p.Dataset != last.Dataset || p.Run != last.Run {
			runs = append(runs, coverRun{})
		}
		last = p
		r, y := &runs[len(runs)-1], -math.Log(p.Ratio)
		r.pairs = append(r.pairs, p)
		r.n, r.xx, r.xy, r.yy = r.n+1, r.xx+p.Contrast*p.Contrast, r.xy+p.Contrast*y, r.yy+y*y
	}
	return runs, left
}

// ofOneRun states the line of the only run, which says nothing of other runs.
func ofOneRun(row *result.SeasonRow, r *coverRun, df float64) {
	b := r.slope()
	row.Value = quantity.Some(b)
	row.Flags.Add("one_run")
	if df < 1 {
		row.Flags.Add("n_small")
		return
	}
	half := gum.Coverage(row.Level, df) * math.Sqrt(r.residual()/df/r.xx)
	row.Low, row.High = quantity.Some(b-half), quantity.Some(b+half)
}

// overRuns is the synthesis of the runs' slopes, s2 the scatter about their lines.
func overRuns(row *result.SeasonRow, runs []coverRun, s2 float64) {
	p, err := poolCover(runs, s2, row.Level)
	if err != nil { // weights beyond what numbers hold
		row.Flags.Add("not_defined")
		return
	}
	row.Value, row.Low, row.High = p.Value, p.Low, p.High
	row.SDBetween = p.Tau2.Map(math.Sqrt)
	if p.Floored {
		row.Flags.Add("hartung_knapp_floor")
	}
}

func poolCover(runs []coverRun, s2, level float64) (inference.Pooled, error) {
	b, v := make([]float64, len(runs)), make([]float64, len(runs))
	for i := range runs {
		b[i], v[i] = runs[i].slope(), s2/runs[i].xx
	}
	return inference.Pool(b, v, inference.Pooling{Tau: inference.TauREML, HartungKnapp: true, Floor: true, Level: level})
}

// meanOfRuns is for runs of which none tells its own scatter.
func meanOfRuns(row *result.SeasonRow, runs []coverRun) {
	b := make([]float64, len(runs))
	for i := range runs {
		b[i] = runs[i].slope()
	}
	m, err := inference.MeanT(b, row.Level)
	if err != nil {
		row.Flags.Add("not_defined")
		return
	}
	row.Value, row.Low, row.High, row.SDBetween = m.Value, m.Low, m.High, m.SD
}

// seasonRows returns what the pairs of all scopes say: each season that has a name,
// and all; a scope without a pair has no row.
func seasonRows(pairs []CoverPair, level float64) []result.SeasonRow {
	var rows []result.SeasonRow
	add := func(scope string, some []CoverPair) {
		if len(some) > 0 {
			row := PooledCover(some, level)
			row.Scope = scope
			rows = append(rows, row)
		}
	}
	bySeason := map[string][]CoverPair{}
	for _, p := range pairs {
		if p.Season != "" {
			bySeason[p.Season] = append(bySeason[p.Season], p)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(bySeason)) {
		add("season:"+name, bySeason[name])
	}
	add("all", pairs)
	return rows
}
