package analysis

import (
	"slices"
	"strings"

	"sheetwash/analysis/balance"
	"sheetwash/analysis/erosion"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/result"
)

// shared is what all plots of a dataset have in common beside their runs.
type shared struct {
	rating   *erosion.Rating
	analytes []erosion.Analyte
}

func sharedBy(runs []experiment.Run) shared {
	return shared{rating: erosion.FitRating(erosion.Pairs(runs)), analytes: erosion.Analytes(runs)}
}

// alongside is what a plot contributes to statements that need the other plots of its
// run: its rows, which these statements complete, and its balance.
type alongside struct {
	slot, first, end int // rows in the slot's part
	balance          *balance.Balance
	verdict          balance.Verdict
}

// bare reports whether a plot is one that soil losses are compared with: the
// treatment of the plan where it names one; else a cover of at most the plan's; where
// none was noted, a kind of cover that says so, or a treatment with such a word. A
// plot that was left out of the statistics is none.
func bare(p *experiment.Plot, plan *Plan) bool {
	switch {
	case p.Exclude:
		return false
	case plan.Reference != "":
		return p.Treatment == plan.Reference
	case p.CoverPct.OK:
		return p.CoverPct.V <= plan.BareCoverPct
	case p.CoverKind != "":
		return saysBare(p.CoverKind)
	}
	return saysBare(p.Treatment)
}

func saysBare(text string) bool {
	words := strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !('a' <= r && r <= 'z') })
	return slices.ContainsFunc(words, func(w string) bool { return w == "bare" || w == "fallow" || w == "none" })
}

// compared reports for each plot of a run whether it is set against bare plots of
// the run: there are some, and it is none of them. Nil where no plot is.
func compared(run *experiment.Run, plan *Plan) []bool {
	out := make([]bool, len(run.Plots))
	n := 0
	for i := range run.Plots {
		if bare(&run.Plots[i], plan) {
			n++
		} else {
			out[i] = true
		}
	}
	if n == 0 || n == len(out) {
		return nil
	}
	return out
}

// appendPaired appends the rows that completePaired fills.
func (s site) appendPaired(rows []result.PlotRow, base result.PlotRow) []result.PlotRow {
	base.Metric, base.Method, base.Unit, base.Headline = result.SoilLossRatio, erosion.MethodPaired, "1", true
	rows = append(rows, base)
	if s.plot.CoverPct.OK {
		base.Metric, base.Method, base.Unit = result.CoverExponent, erosion.MethodExponent, "1/%"
		rows = append(rows, base)
	}
	return rows
}

// ofRun completes the rows of the plots of one run that depend on each other.
type ofRun struct {
	plots []experiment.Plot
	rows  [][]result.PlotRow // of each plot
	sides []alongside
	plan  Plan
	// points is how many a cover was counted at, of the dataset's error model.
	points float64
	cover  []CoverPair // what pair adds
}

// complete does it: soil loss ratios and cover exponents against the bare plots, and the faults
// of balances in the light of their neighbours'.
func (r *ofRun) complete() {
	for i := range r.plots {
		if ratio := find(r.rows[i], result.SoilLossRatio); ratio != nil {
			r.pair(i, ratio)
		}
	}
	speaks := false
	verdicts := make([]balance.Verdict, len(r.sides))
	for i := range r.sides {
		verdicts[i] = r.sides[i].verdict
		speaks = speaks || r.sides[i].balance != nil
	}
	if !speaks {
		return
	}
	for i, v := range balance.Compare(verdicts) {
		if b := r.sides[i].balance; b != nil {
			r.rejudge(i, b.Judge(v))
		}
	}
}

// pair fills the ratio of a plot, against the bare plots of its own land use where there
// are some (flag reference_other_land_use else).
func (r *ofRun) pair(plot int, ratio *result.PlotRow) {
	losses, cover, other := r.references(plot)
	loss := find(r.rows[plot], result.SoilLoss)
	if loss == nil {
		ratio.Estimate = result.Estimate{Flags: result.Flags{"no_sediment_data"}}
	} else {
		ratio.Estimate = erosion.SoilLossRatio(loss.Estimate, losses, r.plan.Level)
	}
	if other {
		ratio.Flags = slices.Clone(ratio.Flags)
		ratio.Flags.Add("reference_other_land_use")
	}
	if exponent := find(r.rows[plot], result.CoverExponent); exponent != nil {
		exponent.Estimate = erosion.CoverExponent(ratio.Estimate, r.plots[plot].CoverPct.V, cover, r.points, r.plan.Level)
		if p := &r.plots[plot]; ratio.Value.OK && !p.Exclude {
			r.cover = append(r.cover, CoverPair{Plot: p.ID, Contrast: p.CoverPct.V - cover, Ratio: ratio.Value.V, Bounded: ratio.Censored != "" && ratio.Censored != result.Observed})
		}
	}
	for _, m := range [...]result.Metric{result.SoilLossRatio, result.CoverExponent} {
		if row := find(r.rows[plot], m); row != nil {
			settle(row)
		}
	}
}

// references returns the soil losses of the bare plots that a plot is compared with,
// their mean cover, %, and whether they are of another land use.
func (r *ofRun) references(plot int) (losses []result.Estimate, coverPct float64, other bool) {
	p := &r.plots[plot]
	same := func(b *experiment.Plot) bool {
		return p.LandUse == "" || b.LandUse == "" || strings.EqualFold(p.LandUse, b.LandUse)
	}
	for _, anyUse := range [...]bool{false, true} {
		n := 0.0
		for i := range r.plots {
			b := &r.plots[i]
			if !bare(b, &r.plan) || !anyUse && !same(b) {
				continue
			}
			n++
			coverPct += b.CoverPct.Or(0)
			if row := find(r.rows[i], result.SoilLoss); row != nil {
				losses = append(losses, row.Estimate)
			}
		}
		if n > 0 {
			return losses, coverPct / n, anyUse
		}
	}
	return nil, 0, false
}

// rejudge puts the flags of a balance in its rows.
func (r *ofRun) rejudge(plot int, b balance.Balance) {
	for i := range r.rows[plot] {
		row := &r.rows[plot][i]
		switch {
		case row.Metric == result.BalanceClosure:
			row.Flags = b.Closure.Flags
		case row.Metric == result.StorageDepth && row.Method == balance.MethodResidual:
			row.Flags = b.Residual.Flags
		default:
			continue
		}
		settle(row)
	}
}

// find returns the headline row of a metric, or nil.
func find(rows []result.PlotRow, m result.Metric) *result.PlotRow {
	for i := range rows {
		if rows[i].Metric == m && rows[i].Headline {
			return &rows[i]
		}
	}
	return nil
}
