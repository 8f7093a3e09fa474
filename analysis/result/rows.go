package result

import (
	"slices"
	"strings"

	"sheetwash/analysis/quantity"
)

// Censored says which side of a value is unknown.
type Censored string

// The words of the censored column.
const (
	Observed Censored = "none"
	Right    Censored = "right"    // the true value is at least this
	Left     Censored = "left"     // the true value is at most this
	Interval Censored = "interval" // the true value is between low and high
)

// Flags are stable words that say how a value is to be read, or why there is
// none. Rendered in the order in which they were added, separated by spaces.
type Flags []string

// Add appends words that are not there yet.
func (f *Flags) Add(words ...string) {
	for _, w := range words {
		if w != "" && !f.Has(w) {
			*f = append(*f, w)
		}
	}
}

// Has reports whether the word is there.
func (f Flags) Has(word string) bool {
	for _, w := range f {
		if w == word {
			return true
		}
	}
	return false
}

// String joins the words with spaces.
func (f Flags) String() string { return strings.Join(f, " ") }

// Finding is a row of the findings table.
type Finding struct {
	Dataset, Code, Severity, File, Table string
	Row                                  int64 // 0: no row
	Column, Value, Message               string
}

// Course is the hydrograph of one stream of one plot: what its rows share, and
// its steps in order.
type Course struct {
	Dataset, Run, Plot, Stream string
	Steps                      []Step
}

// Step is one interval: a row of the hydrograph table within its Course. A number that
// is not finite is a missing one.
type Step struct {
	StartMin, EndMin  float64
	VolumeML          float64
	RateMMH, URateMMH float64           // mean over the interval; u: independent part
	CumulativeMM      float64           // depth since the start of rain, at EndMin
	IntensityMMH      float64           // 0 after the end of rain
	InfiltrationMMH   quantity.Optional // runoff within the rain only
	ConcentrationGL   quantity.Optional
	Flag              Flags
}

// Estimate is a value with what is known of its error. U is the standard
// uncertainty of the measurement; Low and High bound the interval at Level.
// An Estimate without a value carries a flag that says why.
type Estimate struct {
	Value, U, Low, High quantity.Optional
	// UShared is the part of U that all plots of one run have in common (their
	// intensity). It cancels in differences within the run and never shrinks
	// with the number of plots. It has no column of its own.
	UShared  quantity.Optional
	Censored Censored // "" is Observed
	N        int      // readings used
	Flags    Flags
}

// Subject is what all rows of one plot under one run have in common.
type Subject struct {
	Dataset, Season, Event, Run, Plot, Treatment, Block string
	ExperimentalUnit, Sequence                          string            // not columns; the inference needs them
	Crew, Simulator                                     string            // not columns
	Day                                                 quantity.Optional // days since 1970 at the start of rain; not a column
	Excluded                                            bool              // stays in the table with a flag, leaves the statistics
}

// PlotRow is one metric of one plot by one method. The rows of a plot share
// their Subject, which is never nil.
type PlotRow struct {
	*Subject
	Metric   Metric
	Method   string
	Headline bool
	Unit     string
	Level    float64
	Estimate
}

// FitRow is one parameter of one infiltration model of one plot.
type FitRow struct {
	Dataset, Run, Plot, Model, Parameter string
	Value                                quantity.Optional
	Unit                                 string
	U, Low, High                         quantity.Optional
	RSS                                  quantity.Optional
	N                                    int
	AICc, Weight                         quantity.Optional
	Converged                            bool
	Flags                                Flags
}

// TreatmentRow is one statistic of one metric of one treatment within a scope.
type TreatmentRow struct {
	Scope, Treatment           string
	Metric                     Metric
	Statistic                  string // mean, geometric_mean, median, restricted_mean
	Headline                   bool
	Value                      quantity.Optional
	Unit                       string
	Low, High                  quantity.Optional
	Level                      float64
	Method                     string
	NPlots, NEvents, NCensored int
	SDBetween, UMeasurement    quantity.Optional
	Letters                    string
	Flags                      Flags
}

// ComparisonRow is one pair of treatments and one metric within a scope.
type ComparisonRow struct {
	Scope                        string
	Metric                       Metric
	Treatment, Reference, Effect string
	Value                        quantity.Optional
	Unit                         string
	Low, High                    quantity.Optional
	Level                        float64
	P, PAdjusted                 quantity.Optional
	Adjustment, Method           string
	Flags                        Flags
}

// Beside reports whether a row stands beside the comparison of its pair and metric:
// the effect in a further event, its trend, the pair by a second model or by hazards, or
// crews and simulators in the place of treatments.
func (r *ComparisonRow) Beside() bool {
	return r.Effect == "hazard_ratio" || slices.ContainsFunc(r.Flags, func(w string) bool {
		switch w {
		case "prediction", "trend", "second_model", "between_crews", "between_simulators":
			return true
		}
		return false
	})
}

// CalibrationRow is one metric of one catch-can calibration.
type CalibrationRow struct {
	Dataset, Calibration, Simulator, Date string // Date: ISO 8601 or ""
	Metric                                Metric
	Value                                 quantity.Optional
	Unit                                  string
	Low, High                             quantity.Optional
	Level                                 float64
	N                                     int
	Flags                                 Flags
}

// SeasonRow is what all plots of a scope say together, whatever their treatments. It
// is no table: it stands in analysis.json, below season_results.
type SeasonRow struct {
	Scope         string
	Metric        Metric
	Method        string
	Value         quantity.Optional
	Unit          string
	Low, High     quantity.Optional
	Level         float64
	NPlots, NRuns int
	SDBetween     quantity.Optional // between runs
	Flags         Flags
}

// Analysis is everything that one analysis found.
type Analysis struct {
	Findings     []Finding
	Hydrograph   []Course
	Plots        []PlotRow
	Fits         []FitRow
	Treatments   []TreatmentRow
	Comparisons  []ComparisonRow
	Calibrations []CalibrationRow
	Season       []SeasonRow
}
