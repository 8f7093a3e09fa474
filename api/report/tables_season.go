package report

import (
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// treatmentResults is one row per scope, treatment, metric and statistic.
var treatmentResults = &sheet[result.TreatmentRow]{
	name: "treatment_results", per: "treatment, metric and statistic, per scope",
	rows: func(a *result.Analysis) records[result.TreatmentRow] { return whole(a.Treatments) },
	unit: func(r *result.TreatmentRow) string { return r.Unit },
	columns: []column[result.TreatmentRow]{
		text("scope", "what was summarised: event:…, season:… or all", func(r *result.TreatmentRow) string { return r.Scope }),
		text("treatment", "management or cover being compared", func(r *result.TreatmentRow) string { return r.Treatment }),
		text("metric", "stable identifier of the quantity", func(r *result.TreatmentRow) string { return string(r.Metric) }),
		text("statistic", "mean, geometric_mean, median or restricted_mean", func(r *result.TreatmentRow) string { return r.Statistic }),
		truth("headline", "true for the one statistic that the documented rule picks", func(r *result.TreatmentRow) bool { return r.Headline }),
		amount("value", "the estimate", func(r *result.TreatmentRow) quantity.Optional { return r.Value }),
		unitColumn[result.TreatmentRow]("unit of value, low, high and u_measurement"),
		amount("low", "lower end of the interval at level", func(r *result.TreatmentRow) quantity.Optional { return r.Low }),
		amount("high", "upper end of the interval at level", func(r *result.TreatmentRow) quantity.Optional { return r.High }),
		number("level", "1", "level of the interval", func(r *result.TreatmentRow) quantity.Optional { return level(r.Level) }),
		text("method", "how it was found", func(r *result.TreatmentRow) string { return r.Method }),
		count("n_plots", "plots that entered", func(r *result.TreatmentRow) int64 { return int64(r.NPlots) }),
		count("n_events", "events that entered", func(r *result.TreatmentRow) int64 { return int64(r.NEvents) }),
		count("n_censored", "plots whose value is censored", func(r *result.TreatmentRow) int64 { return int64(r.NCensored) }),
		spread(amount("sd_between", "standard deviation between the averaged units; of the natural logarithms beside a geometric mean", func(r *result.TreatmentRow) quantity.Optional { return r.SDBetween })),
		spread(amount("u_measurement", "the part of the standard error that is measurement; of the logarithm beside a geometric mean", func(r *result.TreatmentRow) quantity.Optional { return r.UMeasurement })),
		optional(text("letters", "treatments that share a letter do not differ", func(r *result.TreatmentRow) string { return r.Letters })),
		optional(text("flags", "words that say how the value is to be read, or why there is none", func(r *result.TreatmentRow) string { return r.Flags.String() })),
	},
}

// spread marks a column that is a number of the logarithm, without a unit,
// beside a geometric mean.
func spread(c column[result.TreatmentRow]) column[result.TreatmentRow] {
	c.as = func(r *result.TreatmentRow) bool { return r.Statistic != "geometric_mean" }
	return c
}

// comparisons is one row per pair or contrast and metric.
var comparisons = &sheet[result.ComparisonRow]{
	name: "comparisons", per: "pair or contrast and metric",
	rows: func(a *result.Analysis) records[result.ComparisonRow] { return whole(a.Comparisons) },
	unit: func(r *result.ComparisonRow) string { return r.Unit },
	columns: []column[result.ComparisonRow]{
		text("scope", "what was compared: event:…, season:… or all", func(r *result.ComparisonRow) string { return r.Scope }),
		text("metric", "stable identifier of the quantity", func(r *result.ComparisonRow) string { return string(r.Metric) }),
		text("treatment", "the treatment", func(r *result.ComparisonRow) string { return r.Treatment }),
		text("reference", "what it is compared with", func(r *result.ComparisonRow) string { return r.Reference }),
		text("effect", "difference, ratio or hazard_ratio", func(r *result.ComparisonRow) string { return r.Effect }),
		amount("value", "the effect", func(r *result.ComparisonRow) quantity.Optional { return r.Value }),
		unitColumn[result.ComparisonRow]("unit of value, low and high"),
		amount("low", "lower end of the interval at level", func(r *result.ComparisonRow) quantity.Optional { return r.Low }),
		amount("high", "upper end of the interval at level", func(r *result.ComparisonRow) quantity.Optional { return r.High }),
		number("level", "1", "level of the interval", func(r *result.ComparisonRow) quantity.Optional { return level(r.Level) }),
		number("p", "1", "p-value of no effect", func(r *result.ComparisonRow) quantity.Optional { return r.P }),
		number("p_adjusted", "1", "p-value after the adjustment", func(r *result.ComparisonRow) quantity.Optional { return r.PAdjusted }),
		optional(text("adjustment", "for how many comparisons, and how", func(r *result.ComparisonRow) string { return r.Adjustment })),
		text("method", "how it was found", func(r *result.ComparisonRow) string { return r.Method }),
		optional(text("flags", "words that say how the value is to be read, or why there is none", func(r *result.ComparisonRow) string { return r.Flags.String() })),
	},
}

// calibrations is one row per calibration and metric.
var calibrations = &sheet[result.CalibrationRow]{
	name: "calibrations", per: "calibration and metric",
	rows: func(a *result.Analysis) records[result.CalibrationRow] { return whole(a.Calibrations) },
	unit: func(r *result.CalibrationRow) string { return r.Unit },
	columns: []column[result.CalibrationRow]{
		text("dataset", "path of the dataset below the folder that was given, or its name", func(r *result.CalibrationRow) string { return r.Dataset }),
		text("calibration", "catch-can test", func(r *result.CalibrationRow) string { return r.Calibration }),
		optional(text("simulator", "which simulator", func(r *result.CalibrationRow) string { return r.Simulator })),
		optional(text("date", "when, ISO 8601", func(r *result.CalibrationRow) string { return r.Date })),
		text("metric", "stable identifier of the quantity", func(r *result.CalibrationRow) string { return string(r.Metric) }),
		amount("value", "the value", func(r *result.CalibrationRow) quantity.Optional { return r.Value }),
		unitColumn[result.CalibrationRow]("unit of value, low and high"),
		amount("low", "lower end of the interval at level", func(r *result.CalibrationRow) quantity.Optional { return r.Low }),
		amount("high", "upper end of the interval at level", func(r *result.CalibrationRow) quantity.Optional { return r.High }),
		number("level", "1", "level of the interval", func(r *result.CalibrationRow) quantity.Optional { return level(r.Level) }),
		count("n", "cans", func(r *result.CalibrationRow) int64 { return int64(r.N) }),
		optional(text("flags", "words that say how the value is to be read, or why there is none", func(r *result.CalibrationRow) string { return r.Flags.String() })),
	},
}
