package hydrograph

import (
	"slices"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// AppendRows appends the rows of the runoff of a plot: time to runoff by four
// methods and the rain until then by the headline one, time to ponding, final and
// peak rate, runoff and infiltration depth, runoff coefficient, curve number, and the
// loss indices of a rain that varied. base holds the columns that name the plot, and the level.
func (h *Hydrograph) AppendRows(dst []result.PlotRow, base result.PlotRow) []result.PlotRow {
	headline := h.HeadlineMethod()
	for _, method := range [4]string{MethodObserved, MethodFirstBottle, MethodThreshold, MethodBackExtrapolated} {
		dst = appendRow(dst, &base, result.TimeToRunoff, method, method == headline, h.TimeToRunoff(method))
	}
	dst = appendRow(dst, &base, result.TimeToPonding, MethodObserved, true, h.TimeToPonding())
	dst = appendRow(dst, &base, result.FinalRunoffRate, MethodLastBlock, true, h.FinalRate())
	dst = appendRow(dst, &base, result.PeakRunoffRate, MethodLargest, true, h.PeakRate())
	dst = appendRow(dst, &base, result.RunoffDepth, h.Source(), true, h.Depth())
	dst = appendRow(dst, &base, result.InfiltrationDepth, MethodRainLess, true, h.InfiltrationDepth())
	dst = appendRow(dst, &base, result.RunoffCoefficient, MethodOverRain, true, h.Coefficient())
	dst = appendRow(dst, &base, result.RainDepthToRunoff, headline, true, h.RainToRunoff(headline))
	dst = appendRow(dst, &base, result.CurveNumber, MethodAbstraction020, true, h.CurveNumber(Abstraction020))
	dst = appendRow(dst, &base, result.CurveNumber, MethodAbstraction005, false, h.CurveNumber(Abstraction005))
	return h.appendLossRows(dst, &base)
}

// AppendDrainageRow appends the row of drainage_depth. A plot without drainage
// data gets none.
func (h *Hydrograph) AppendDrainageRow(dst []result.PlotRow, base result.PlotRow) []result.PlotRow {
	if h.Status == NoData && h.NMeasured == 0 {
		return dst
	}
	return appendRow(dst, &base, result.DrainageDepth, h.Source(), true, h.Depth())
}

func appendRow(dst []result.PlotRow, base *result.PlotRow, m result.Metric, method string, headline bool, e result.Estimate) []result.PlotRow {
	dst = append(dst, *base)
	row := &dst[len(dst)-1]
	info, _ := m.Info()
	row.Metric, row.Method, row.Headline, row.Unit, row.Estimate = m, method, headline, info.SI, e
	return dst
}

// Steps returns the rows of the hydrograph table of the stream. concentration
// holds the sediment concentration of each interval, or is nil.
//
// The depth adds up from the start of rain. Infiltration is intensity minus
// runoff rate, for intervals of runoff that end by the end of rain; it holds
// what goes into storage on the surface. Below zero it keeps its sign (flag
// negative_infiltration): release of storage, or an error.
func (h *Hydrograph) Steps(concentration []quantity.Optional) []result.Step {
	dst := make([]result.Step, 0, len(h.Intervals))
	var volume float64
	for i := range h.Intervals {
		iv := &h.Intervals[i]
		volume += iv.VolumeML
		row := result.Step{StartMin: iv.StartMin, EndMin: iv.EndMin, VolumeML: iv.VolumeML, RateMMH: iv.RateMMH, URateMMH: iv.URateMMH,
			CumulativeMM: h.depthMM(volume), IntensityMMH: h.rain.Between(iv.StartMin, iv.EndMin), Flag: slices.Clip(iv.Flags)}
		if h.withinRain(iv) && h.Stream == experiment.Runoff {
			row.InfiltrationMMH = quantity.Some(h.rain.Between(iv.StartMin, min(iv.EndMin, h.rain.DurationMin)) - iv.RateMMH)
			if row.InfiltrationMMH.V < 0 {
				row.Flag.Add("negative_infiltration")
			}
		}
		if i < len(concentration) {
			row.ConcentrationGL = concentration[i]
		}
		if iv.Kind == NoFlow && len(iv.Flags) == 0 {
			row.Flag = result.Flags{"no_flow"}
		}
		dst = append(dst, row)
	}
	return dst
}
