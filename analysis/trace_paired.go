package analysis

import (
	"strings"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/result"
)

// paired is how a soil loss ratio or a cover exponent came about: the rows of the
// plots of the run are its leaves; see ofRun.pair.
func (t *trace) paired(r *result.PlotRow) (derivation.Node, bool) {
	whole := ofRun{plots: t.run.Plots, plan: t.plan, rows: make([][]result.PlotRow, len(t.run.Plots))}
	at := -1
	for i := range t.run.Plots {
		p := &t.run.Plots[i]
		if p.ID == t.plot.ID {
			at = i
		}
		for _, row := range t.part.Plots {
			if row.Run == t.run.ID && row.Plot == p.ID {
				whole.rows[i] = append(whole.rows[i], row)
			}
		}
	}
	loss, ratio := find(whole.rows[at], result.SoilLoss), find(whole.rows[at], result.SoilLossRatio)
	_, bareCover, other := whole.references(at)
	if loss == nil || ratio == nil || !ratio.Value.OK || !loss.Value.OK {
		return derivation.Node{}, false
	}
	losses, covers := derivation.ListOf("bare_loss", "g/m2"), derivation.Of("bare_cover", bareCover, "%", derivation.Mean)
	for i := range t.run.Plots {
		p := &t.run.Plots[i]
		if !bare(p, &t.plan) || !other && !sameUse(t.plot, p) {
			continue
		}
		cover := derivation.Setting("cover", 0, "%", "not noted: bare")
		if p.CoverPct.OK {
			cover = derivation.Read("cover", p.CoverPct.V, "%", -1, derivation.Place{File: p.Place.File, Row: p.Place.Row, Column: "cover"})
		}
		covers.Inputs = append(covers.Inputs, cover)
		if row := find(whole.rows[i], result.SoilLoss); row != nil && row.Value.OK {
			losses.Inputs = append(losses.Inputs, ofRow("bare_loss", row))
		}
	}
	n := derivation.Formula(string(result.SoilLossRatio), ratio.Value.V, "1", "soil_loss / mean(bare_loss)", ofRow("soil_loss", loss), losses)
	n.Source = "definition, RUSLE"
	if r.Metric == result.SoilLossRatio {
		return n, true
	}
	own := derivation.Read("cover", t.plot.CoverPct.V, "%", -1, derivation.Place{File: t.plot.Place.File, Row: t.plot.Place.Row, Column: "cover"})
	n = derivation.Formula(string(result.CoverExponent), r.Value.V, "1/%", "-log(soil_loss_ratio) / (cover - bare_cover)", n, own, covers)
	n.Source = "logarithm of the cover ratio, RUSLE"
	return n, true
}

// sameUse reports whether a bare plot is of the land use of a plot, as far as
// either is noted; see ofRun.references.
func sameUse(p, b *experiment.Plot) bool {
	return p.LandUse == "" || b.LandUse == "" || strings.EqualFold(p.LandUse, b.LandUse)
}

// ofRow is the value of another row, by its key.
func ofRow(name string, r *result.PlotRow) derivation.Node {
	return derivation.Node{Name: name, Key: r.Key(), Value: derivation.Number(r.Value), Unit: r.Unit, U: derivation.Number(r.U)}
}
