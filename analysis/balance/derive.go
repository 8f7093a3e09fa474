package balance

import (
	"sheetwash/analysis/derivation"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/result"
)

// Nodes is how what a balance is made of came about.
type Nodes struct {
	Rain, Runoff, Drainage, Sediment derivation.Node // Drainage may be empty, Runoff is that of the suspension
	Density                          derivation.Node // of the water, kg/m3
	Area                             derivation.Node
}

// Derive returns the derivation of a row of AppendRows; false where there is none
// of its metric and method.
func (b *Balance) Derive(row *result.PlotRow, plot *experiment.Plot, n Nodes) (derivation.Node, bool) {
	name := string(row.Metric)
	if row.Metric == result.StorageDepth && row.Method != MethodResidual {
		return b.gainNode(name, row.Method, plot, n)
	}
	if row.Metric != result.BalanceClosure && row.Metric != result.StorageDepth {
		return derivation.Node{}, false
	}
	in := &b.input
	runoff := derivation.Formula("water_runoff", in.Runoff.DepthMM, "mm", "runoff_depth - sediment_mass / 2.65 / (1000 * area)", n.Runoff, n.Sediment, n.Area)
	runoff.Note = "the water in the runoff: the grains in it are no water"
	equation := "rain_depth - water_runoff - drainage - splash - edge"
	inputs := []derivation.Node{n.Rain, runoff, n.Drainage.Named("drainage"), b.splash(plot), b.edge(plot)}
	if row.Metric == result.BalanceClosure && len(in.Gains) > 0 {
		g, ok := b.gainNode("storage", in.Gains[0].Method, plot, n)
		if !ok {
			return derivation.Node{}, false
		}
		equation += " - storage"
		inputs = append(inputs, g)
	}
	out := derivation.Formula(name, row.Value.V, "mm", equation, inputs...)
	out.Source = "conservation of mass"
	return out, true
}

// splash is what was caught beside the plot.
func (b *Balance) splash(plot *experiment.Plot) derivation.Node {
	if !b.input.Splash.Known {
		return derivation.Setting("splash", 0, "mm", "not measured")
	}
	volume := derivation.ListOf("volume", "mL")
	for i := range plot.Samples {
		if s := &plot.Samples[i]; s.Stream == experiment.Splash && !s.Exclude && s.VolumeML.OK {
			volume.Inputs = append(volume.Inputs, derivation.Read("volume", s.VolumeML.V, "mL", -1, place(s.Place, "volume")))
		}
	}
	return derivation.Formula("splash", b.input.Splash.DepthMM, "mm", "sum(volume) / (1000 * area)", volume, area(plot))
}

// edge is what left over the edges of the plot.
func (b *Balance) edge(plot *experiment.Plot) derivation.Node {
	if !b.input.Edge.Known {
		return derivation.Setting("edge", 0, "mm", "not measured")
	}
	return derivation.Formula("edge", b.input.Edge.DepthMM, "mm", "volume / (1000 * area)",
		derivation.Read("volume", plot.Storage.EdgeLossML.V, "mL", -1, place(plot.Place, "edge_loss")), area(plot))
}

// gainNode is a measured gain of water in the soil.
func (b *Balance) gainNode(name, method string, plot *experiment.Plot, n Nodes) (derivation.Node, bool) {
	st := plot.Storage
	for _, g := range b.Gains {
		if g.Method != method {
			continue
		}
		read := func(name string, v float64, unit, column string) derivation.Node {
			return derivation.Read(name, v, unit, -1, place(plot.Place, column))
		}
		var out derivation.Node
		switch method {
		case MethodWeighed:
			out = derivation.Formula(name, g.DepthMM, "mm", "(after - before + sediment_mass) / (density * area)",
				read("after", st.SoilAfterG.V, "g", "soil_mass_after"), read("before", st.SoilBeforeG.V, "g", "soil_mass_before"), n.Sediment, n.Density, area(plot))
		case MethodGravimetric:
			out = derivation.Formula(name, g.DepthMM, "mm", "1000 * bulk_density / density * (soil_depth / 100) * (after - before)",
				read("bulk_density", st.BulkDensityGCM3.V, "g/cm3", "bulk_density"), n.Density, read("soil_depth", st.SoilDepthMM.V, "mm", "soil_depth"),
				read("after", st.GravimetricAfterPct.V, "%", "gravimetric_after"), read("before", st.GravimetricBeforePct.V, "%", "gravimetric_before"))
		case MethodVolumetric:
			out = derivation.Formula(name, g.DepthMM, "mm", "soil_depth / 100 * (after - before)", read("soil_depth", st.SoilDepthMM.V, "mm", "soil_depth"),
				read("after", st.FinalWaterPct.V, "%", "final_water"), read("before", plot.InitialWaterPct.V, "%", "initial_water"))
		default:
			before, after, _ := sensor(plot)
			at := derivation.Place{}
			for i := range plot.Series {
				if plot.Series[i].Channel == experiment.SoilWater {
					at = place(plot.Series[i].Place, "value")
				}
			}
			out = derivation.Formula(name, g.DepthMM, "mm", "soil_depth / 100 * (after - before)", read("soil_depth", st.SoilDepthMM.V, "mm", "soil_depth"),
				derivation.Read("after", after, "%", -1, at).Noting("last reading of the channel; the row is that of its first"), derivation.Read("before", before, "%", -1, at).Noting("first reading"))
		}
		out.Method = method
		return out.With(g.UMM), true
	}
	return derivation.Node{}, false
}

func area(plot *experiment.Plot) derivation.Node {
	return derivation.Read("area", plot.AreaM2, "m2", -1, place(plot.Place, "area"))
}

func place(p experiment.Place, column string) derivation.Place {
	return derivation.Place{File: p.File, Row: p.Row, Column: column}
}
