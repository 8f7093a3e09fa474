package erosion

import (
	"cmp"
	"slices"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// The methods of the load of an analyte: as a mass, and over the area.
const (
	MethodLoad         = MethodSum
	MethodLoadOverArea = MethodOverArea
)

// Analyte is a concentration that was measured on bottles beside sediment.
type Analyte struct {
	Name, Unit string  // unit of its concentration in results
	Factor     float64 // from the unit of the data to Unit
	MassUnit   string  // of its load
}

// Analytes lists what else was measured on the bottles of runoff in runs, by name and unit. A
// mass per volume is given in mg/L; any other unit stays, and its load is then in that unit times L.
func Analytes(runs []experiment.Run) []Analyte {
	var out []Analyte
	for r := range runs {
		for p := range runs[r].Plots {
			for i := range runs[r].Plots[p].Samples {
				s := &runs[r].Plots[p].Samples[i]
				for _, a := range s.Analytes {
					if s.Stream == experiment.Runoff && !slices.ContainsFunc(out, func(o Analyte) bool { return o.Name == a.Name }) {
						out = append(out, newAnalyte(a))
					}
				}
			}
		}
	}
	slices.SortFunc(out, func(a, b Analyte) int { return cmp.Compare(a.Name, b.Name) })
	return out
}

func newAnalyte(a experiment.Analyte) Analyte {
	from, err := quantity.Parse(a.Unit)
	if err == nil {
		to, err := quantity.Parse("mg/L")
		if err == nil && from.Commensurable(to) {
			if factor, err := from.ConvertTo(1, to); err == nil {
				return Analyte{Name: a.Name, Unit: "mg/L", Factor: factor, MassUnit: "mg"}
			}
		}
	}
	return Analyte{Name: a.Name, Unit: a.Unit, Factor: 1, MassUnit: "(" + a.Unit + ").L"}
}

// LoadMetric and ConcentrationMetric are the identifiers of the metrics of an analyte.
func (a Analyte) LoadMetric() result.Metric { return result.AnalyteLoad(a.Name) }

// ConcentrationMetric is that of the flow-weighted concentration.
func (a Analyte) ConcentrationMetric() result.Metric { return result.AnalyteConcentration(a.Name) }

// AppendAnalyteRows appends the rows of an analyte: its load as a mass and over the area, and its
// flow-weighted concentration.
//
//	M = sum C_k V_k + integral of C dV over what has no bottle of its own,  C = M / V
//
// in the way of stated concentrations of sediment (see Of). The laboratory's error is not in the data: 5 %, common to
// all bottles, is taken (flag analyte_error_assumed). A plot that did not run off has the load 0.
// Source: as Of.
func AppendAnalyteRows(dst []result.PlotRow, base result.PlotRow, a Analyte, in Input) []result.PlotRow {
	load, loss, conc := analyteLoad(a, &in)
	for _, r := range [...]struct {
		metric   result.Metric
		method   string
		unit     string
		headline bool
		estimate result.Estimate
	}{
		{a.ConcentrationMetric(), MethodFlowWeighted, a.Unit, true, conc},
		{a.LoadMetric(), MethodLoadOverArea, a.MassUnit + "/m2", false, loss},
		{a.LoadMetric(), MethodLoad, a.MassUnit, true, load},
	} {
		row := base
		row.Metric, row.Method, row.Headline, row.Unit, row.Estimate = r.metric, r.method, r.headline, r.unit, r.estimate
		dst = append(dst, row)
	}
	return dst
}

func analyteLoad(a Analyte, in *Input) (load, loss, conc result.Estimate) {
	if in.NoRunoff {
		s := noRunoff(in)
		return s.Mass, s.SoilLoss, s.Concentration
	}
	l := newAnalyteLoad(a, in)
	if len(l.pools) == 0 {
		none := missing("no_data")
		return none, none, none
	}
	if in.Flow == nil {
		none := missing("no_volume")
		return none, none, none
	}
	l.cut()
	l.concentrations()
	if !l.spread() {
		none := missing("no_volume")
		return none, none, none
	}
	s := l.result()
	for _, e := range [...]*result.Estimate{&s.Mass, &s.SoilLoss, &s.Concentration} {
		e.Flags.Add("analyte_error_assumed")
	}
	return s.Mass, s.SoilLoss, s.Concentration
}

// newAnalyteLoad makes a pool of each bottle that holds the analyte.
func newAnalyteLoad(a Analyte, in *Input) load {
	l := load{in: in, commonRel: in.Errors.AnalyteRel}
	for i := range in.Plot.Samples {
		s := &in.Plot.Samples[i]
		if s.Stream != experiment.Runoff || s.Exclude {
			continue
		}
		for _, v := range s.Analytes {
			if v.Name == a.Name {
				l.pools = append(l.pools, pool{start: s.StartMin, end: s.EndMin, stated: quantity.Some(v.Value * a.Factor)})
			}
		}
	}
	slices.SortStableFunc(l.pools, byTime)
	return l
}
