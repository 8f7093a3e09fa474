package report

import (
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// findings is one row per check that fired.
var findings = &sheet[result.Finding]{
	name: "findings", per: "check that fired",
	rows: func(a *result.Analysis) records[result.Finding] { return whole(a.Findings) },
	columns: []column[result.Finding]{
		text("dataset", "path of the dataset below the folder that was given, or its name", func(r *result.Finding) string { return r.Dataset }),
		text("code", "stable name of the check", func(r *result.Finding) string { return r.Code }),
		text("severity", "error (the dataset is refused), warning, or note (an assumption that was made)", func(r *result.Finding) string { return r.Severity }),
		optional(text("file", "file below the dataset", func(r *result.Finding) string { return r.File })),
		optional(text("table", "table of the data dictionary", func(r *result.Finding) string { return r.Table })),
		optional(count("row", "row as a spreadsheet counts, header = 1; in Arrow and Parquet the first record = 1", func(r *result.Finding) int64 { return r.Row })),
		optional(text("column", "header as found in the file", func(r *result.Finding) string { return r.Column })),
		optional(text("value", "the offending text", func(r *result.Finding) string { return r.Value })),
		text("message", "what was found and what to do", func(r *result.Finding) string { return r.Message }),
	},
}

// hydrograph is one row per plot, stream and interval.
var hydrograph = &sheet[step]{
	name: "hydrograph", per: "plot and interval",
	rows: func(a *result.Analysis) records[step] { return steps(a.Hydrograph) },
	columns: []column[step]{
		text("dataset", "path of the dataset below the folder that was given, or its name", func(r *step) string { return r.Dataset }),
		text("run", "application of rain", func(r *step) string { return r.Run }),
		text("plot", "plot under the run", func(r *step) string { return r.Plot }),
		text("stream", "what was caught: runoff, drainage, splash", func(r *step) string { return r.Stream }),
		number("start_min", "min", "start of the interval, from the start of rain", func(r *step) quantity.Optional { return quantity.Some(r.StartMin) }),
		number("end_min", "min", "end of the interval", func(r *step) quantity.Optional { return quantity.Some(r.EndMin) }),
		number("volume_ml", "mL", "volume of suspension caught in the interval", func(r *step) quantity.Optional { return quantity.Some(r.VolumeML) }),
		number("rate_mm_h", "mm/h", "mean rate over the interval", func(r *step) quantity.Optional { return quantity.Some(r.RateMMH) }),
		number("u_rate_mm_h", "mm/h", "standard uncertainty of the rate, the part that is independent between bottles", func(r *step) quantity.Optional { return quantity.Some(r.URateMMH) }),
		number("cumulative_mm", "mm", "depth since the start of rain at the end of the interval", func(r *step) quantity.Optional { return quantity.Some(r.CumulativeMM) }),
		number("intensity_mm_h", "mm/h", "mean rain intensity over the interval", func(r *step) quantity.Optional { return quantity.Some(r.IntensityMMH) }),
		number("infiltration_mm_h", "mm/h", "apparent infiltration: intensity minus runoff rate", func(r *step) quantity.Optional { return r.InfiltrationMMH }),
		number("concentration_g_l", "g/L", "dry sediment per volume of suspension", func(r *step) quantity.Optional { return r.ConcentrationGL }),
		optional(text("flag", "words that say how the interval is to be read", func(r *step) string { return r.Flag.String() })),
	},
}

// plotResults is one row per plot, metric and method.
var plotResults = &sheet[result.PlotRow]{
	name: "plot_results", per: "plot, metric and method",
	rows: func(a *result.Analysis) records[result.PlotRow] { return whole(a.Plots) },
	unit: func(r *result.PlotRow) string { return r.Unit },
	columns: []column[result.PlotRow]{
		text("dataset", "path of the dataset below the folder that was given, or its name", func(r *result.PlotRow) string { return r.Dataset }),
		optional(text("season", "programme of field days", func(r *result.PlotRow) string { return r.Season })),
		text("event", "field day: the block in comparisons", func(r *result.PlotRow) string { return r.Event }),
		text("run", "application of rain", func(r *result.PlotRow) string { return r.Run }),
		text("plot", "plot under the run: the experimental unit", func(r *result.PlotRow) string { return r.Plot }),
		text("treatment", "management or cover being compared", func(r *result.PlotRow) string { return r.Treatment }),
		optional(text("block", "block of the design", func(r *result.PlotRow) string { return r.Block })),
		text("metric", "stable identifier of the quantity", func(r *result.PlotRow) string { return string(r.Metric) }),
		text("method", "how it was found", func(r *result.PlotRow) string { return r.Method }),
		truth("headline", "true for the one method that the documented rule picks", func(r *result.PlotRow) bool { return r.Headline }),
		amount("value", "the value; a right-censored time is the censoring time", func(r *result.PlotRow) quantity.Optional { return r.Value }),
		unitColumn[result.PlotRow]("unit of value, u, low and high"),
		amount("u", "standard uncertainty of the measurement", func(r *result.PlotRow) quantity.Optional { return r.U }),
		amount("low", "lower end of the interval at level", func(r *result.PlotRow) quantity.Optional { return r.Low }),
		amount("high", "upper end of the interval at level", func(r *result.PlotRow) quantity.Optional { return r.High }),
		number("level", "1", "level of the interval", func(r *result.PlotRow) quantity.Optional { return level(r.Level) }),
		text("censored", "which side of the value is unknown: none, right, left, interval", func(r *result.PlotRow) string { return censored(r.Censored) }),
		count("n_used", "readings used", func(r *result.PlotRow) int64 { return int64(r.N) }),
		optional(text("flags", "words that say how the value is to be read, or why there is none", func(r *result.PlotRow) string { return r.Flags.String() })),
	},
}

// fits is one row per plot, infiltration model and parameter.
var fits = &sheet[result.FitRow]{
	name: "fits", per: "plot and infiltration model",
	rows: func(a *result.Analysis) records[result.FitRow] { return whole(a.Fits) },
	unit: func(r *result.FitRow) string { return r.Unit },
	columns: []column[result.FitRow]{
		text("dataset", "path of the dataset below the folder that was given, or its name", func(r *result.FitRow) string { return r.Dataset }),
		text("run", "application of rain", func(r *result.FitRow) string { return r.Run }),
		text("plot", "plot under the run", func(r *result.FitRow) string { return r.Plot }),
		text("model", "infiltration model", func(r *result.FitRow) string { return r.Model }),
		text("parameter", "parameter of the model", func(r *result.FitRow) string { return r.Parameter }),
		amount("value", "estimate", func(r *result.FitRow) quantity.Optional { return r.Value }),
		unitColumn[result.FitRow]("unit of value, u, low and high"),
		amount("u", "standard uncertainty", func(r *result.FitRow) quantity.Optional { return r.U }),
		amount("low", "lower end of the interval", func(r *result.FitRow) quantity.Optional { return r.Low }),
		amount("high", "upper end of the interval", func(r *result.FitRow) quantity.Optional { return r.High }),
		number("rss", "", "sum of squared residuals that the fit minimised, as the model's page defines it", func(r *result.FitRow) quantity.Optional { return r.RSS }),
		count("n", "intervals fitted", func(r *result.FitRow) int64 { return int64(r.N) }),
		number("aicc", "1", "corrected Akaike criterion, comparable between models of one plot", func(r *result.FitRow) quantity.Optional { return r.AICc }),
		number("weight", "1", "weight of the model among those of the plot", func(r *result.FitRow) quantity.Optional { return r.Weight }),
		truth("converged", "whether the fit reached its minimum", func(r *result.FitRow) bool { return r.Converged }),
		optional(text("flags", "words that say how the value is to be read, or why there is none", func(r *result.FitRow) string { return r.Flags.String() })),
	},
}

// censored writes out the zero value of a censoring word.
func censored(c result.Censored) string {
	if c == "" {
		return string(result.Observed)
	}
	return string(c)
}

// level is missing where no interval was asked for.
func level(l float64) quantity.Optional {
	if l == 0 {
		return quantity.None()
	}
	return quantity.Some(l)
}
