package analysis

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/erosion"
	"sheetwash/analysis/result"
)

// seasonRow explains a row of season_results; see PooledCover.
func (f *Folded) seasonRow(r *result.SeasonRow) (derivation.Node, error) {
	pairs := f.cover
	if name, found := strings.CutPrefix(r.Scope, "season:"); found {
		pairs = nil
		for _, p := range f.cover {
			if p.Season == name {
				pairs = append(pairs, p)
			}
		}
	}
	n := derivation.Empty(string(r.Metric), r.Unit)
	if r.Value.OK {
		n = pooledCoverNode(r, pairs)
	}
	n.Method, n.Unit, n.Level = r.Method, r.Unit, r.Level
	n.Low, n.High = derivation.Number(r.Low), derivation.Number(r.High)
	return whole(n, true, r.Key(), r.Value, r.Flags)
}

func pooledCoverNode(r *result.SeasonRow, pairs []CoverPair) derivation.Node {
	runs, _ := coverRuns(pairs)
	slopes := make([]derivation.Node, len(runs))
	var squares, df float64
	for i := range runs {
		slopes[i] = slopeNode(&runs[i])
		squares, df = squares+runs[i].residual(), df+float64(runs[i].n-1)
	}
	name := string(r.Metric)
	switch {
	case len(runs) == 1:
		return slopes[0].Named(name)
	case !(df > 0 && squares > 0):
		return derivation.Of(name, r.Value.V, r.Unit, derivation.Mean, slopes...)
	}
	s2 := squares / df
	tau2 := r.SDBetween.V * r.SDBetween.V
	if p, err := poolCover(runs, s2, r.Level); err == nil {
		tau2 = p.Tau2.V
	}
	tau := derivation.Parameter{Name: "tau2", Value: tau2}
	if tau2 == 0 {
		tau.Held = "at zero: the runs scatter no more than the plots within them"
	}
	fit := &derivation.Fit{Parameters: []derivation.Parameter{{Name: "mu", Value: r.Value.V}, tau}}
	var weights []string
	var total float64
	for i := range runs {
		v := s2 / runs[i].xx
		constant := "variance_" + strconv.Itoa(i+1)
		fit.Constants = append(fit.Constants, derivation.Setting(constant, v, "", "of a run: scatter about the lines of all runs over its sum of squares"))
		fit.Data = append(fit.Data, derivation.Datum{slopes[i].Named("slope"), derivation.Setting("variance", v, "", "")})
		fit.Terms = append(fit.Terms, "(log(variance + tau2) + pow(slope - mu, 2) / (variance + tau2)) / 2")
		weights = append(weights, "1 / ("+constant+" + tau2)")
		fit.Objective += (math.Log(v+tau2) + math.Pow(runs[i].slope()-r.Value.V, 2)/(v+tau2)) / 2
		total += 1 / (v + tau2)
	}
	fit.Penalty = "log(" + strings.Join(weights, " + ") + ") / 2"
	fit.Objective += math.Log(total) / 2
	n := derivation.Formula(name, r.Value.V, r.Unit, "mu", derivation.ListOf("slopes", r.Unit, slopes...))
	n.Fit, n.Source = fit, "RUSLE; Viechtbauer 2005 for the restricted likelihood; Hartung and Knapp 2001 for the interval"
	return n
}

// slopeNode is the line of one run through the origin.
func slopeNode(r *coverRun) derivation.Node {
	contrast, y := derivation.ListOf("contrast", "%"), derivation.ListOf("y", "1")
	for _, p := range r.pairs {
		contrast.Inputs = append(contrast.Inputs, derivation.Setting("contrast", p.Contrast, "%", "cover of the plot less that of the bare plots of its run"))
		ratio := derivation.Node{Name: "soil_loss_ratio", Value: &p.Ratio, Unit: "1",
			Key: result.Key(result.TablePlots, p.Dataset, p.Run, p.Plot, string(result.SoilLossRatio), erosion.MethodPaired)}
		y.Inputs = append(y.Inputs, derivation.Formula("y", -math.Log(p.Ratio), "1", "-log(soil_loss_ratio)", ratio))
	}
	n := derivation.Formula("slope", r.slope(), "1/%", "dot(contrast, y) / dot(contrast, contrast)", contrast, y)
	n.Note = fmt.Sprintf("run %s of %s", r.pairs[0].Run, r.pairs[0].Dataset)
	return n
}
