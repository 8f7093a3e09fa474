package demo

import (
	"strconv"

	"sheetwash/analysis/quantity"
)

// TruthRow is what really happened on one plot of the season.
type TruthRow struct {
	Dataset, Event, Run, Plot, Treatment string

	F0MMH, FcMMH, KPerH     float64           // Horton capacity of the plot
	IntensityMMH, RainMM    float64           // rain
	OnsetMin                quantity.Optional // missing: it never ran off
	RunoffMM                float64           // through the recession
	RunoffCoefficient       float64
	CapacityMMH             float64           // at the end of rain: the steady infiltration rate
	SedimentConcentrationGL quantity.Optional // flow-weighted; missing: it never ran off
	DrainageMM, StorageMM   quantity.Optional // of the plots whose soil water was watched
	Note                    string            // what was done to the plot's bottles
}

// Truth lists the plots of the season in the order of the field days.
func Truth() []TruthRow {
	var out []TruthRow
	for _, e := range season() {
		d := e.observe()
		for _, r := range d.runs {
			for _, p := range r.plots {
				out = append(out, TruthRow{
					Dataset: e.folder, Event: e.place, Run: r.id, Plot: p.id, Treatment: p.name,
					F0MMH: p.horton.F0, FcMMH: p.horton.Fc, KPerH: p.horton.K,
					IntensityMMH: e.intensityMMH, RainMM: p.truth.RainMM, OnsetMin: p.truth.OnsetMin,
					RunoffMM: p.truth.RunoffMM, RunoffCoefficient: p.truth.Coefficient, CapacityMMH: p.truth.CapacityMMH,
					SedimentConcentrationGL: p.truth.ConcentrationGL, DrainageMM: p.drainageMM, StorageMM: p.storageMM, Note: p.note,
				})
			}
		}
	}
	return out
}

// truthFile is the truth table as CSV, six significant digits.
func truthFile() (File, error) {
	g := grid{columns: []gridColumn{
		{"dataset", ""}, {"event", ""}, {"run", ""}, {"plot", ""}, {"treatment", ""}, {"true_f0", "mm/h"}, {"true_fc", "mm/h"}, {"true_k", "/h"},
		{"true_intensity", "mm/h"}, {"true_rain", "mm"}, {"true_onset", "min"}, {"true_runoff", "mm"}, {"true_coefficient", "1"},
		{"true_capacity_at_rain_end", "mm/h"}, {"true_concentration", "g/L"},
		{"true_drainage", "mm"}, {"true_storage", "mm"}, {"note", ""},
	}}
	six := func(v float64) string { return strconv.FormatFloat(digits(v, 6), 'f', -1, 64) }
	maybe := func(v quantity.Optional) string {
		if !v.OK {
			return ""
		}
		return six(v.V)
	}
	for _, t := range Truth() {
		g.add(t.Dataset, t.Event, t.Run, t.Plot, t.Treatment, six(t.F0MMH), six(t.FcMMH), six(t.KPerH), six(t.IntensityMMH), six(t.RainMM),
			maybe(t.OnsetMin), six(t.RunoffMM), six(t.RunoffCoefficient), six(t.CapacityMMH), maybe(t.SedimentConcentrationGL), maybe(t.DrainageMM), maybe(t.StorageMM), t.Note)
	}
	data, err := brackets.csv(g)
	return File{Path: "truth.csv", Data: data}, err
}
