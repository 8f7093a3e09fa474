package season

// The flags of treatment results, besides those of package inference.
const (
	FlagOnePlot           = "one_plot"             // n = 1: a value, no interval
	FlagOneEvent          = "one_event"            // over events, but there is one: the statement within it
	FlagRepeatedMeasures  = "repeated_measures"    // runs on one body of soil were joined
	FlagSequencesDiffer   = "sequences_differ"     // runs of unlike sequence; one treatment row for each
	FlagMethodsDiffer     = "methods_differ"       // plots of the treatment have values by other methods as well
	FlagSomeMissing       = "some_missing"         // plots without a value were left out
	FlagSomeWithoutRunoff = "some_without_runoff"  // plots that did not run off are not in it; n_censored counts them
	FlagNoneRanOff        = "none_ran_off"         // no plot ran off
	FlagZerosIncluded     = "zeros_included"       // plots that did not run off count as zero
	FlagLowerBound        = "lower_bound"          // the true value is at least this
	FlagUpperBound        = "upper_bound"          // the true value is at most this
	FlagNotReached        = "not_reached"          // fewer than half ran off, or none within the time of the restriction
	FlagMeasurementOnly   = "measurement_only"     // replicates equal: the interval is that of the measurement
	FlagPooledPlots       = "pooled_plots"         // plots of several events taken together: no interval
	FlagIntervalAsMiddle  = "interval_at_midpoint" // interval-censored times stand at the middle of their interval
	FlagBelowZero         = "interval_below_zero"  // the interval reaches values that can't be
	FlagAboveOne          = "interval_above_one"   // likewise, for a share
)

// The flags of comparisons, besides those above and of package inference.
const (
	FlagReferenceOnly    = "reference_only"      // with the reference only: one was named, or there are too many treatments for all pairs
	FlagReferenceDiffers = "reference_differs"   // the season's reference is not in this scope
	FlagNoCommonEvent    = "no_common_event"     // fewer than two events have both: events as replicates
	FlagOneEventDecides  = "one_event_decides"   // without one of the events the answer at this level is another
	FlagRankFloor        = "rank_floor"          // carries the smallest p that the numbers of plots allow
	FlagTied             = "tied"                // equal values: no interval by ranks
	FlagI2               = "i2"                  // carries the share of the spread of events that is not scatter of plots
	FlagFloor            = "hartung_knapp_floor" // events differ less than their plots allow: the width is that of the plots
	FlagPrediction       = "prediction"          // the interval is that of the effect in one further event
	FlagNotNormal        = "not_normal"          // the residuals of the scope are not normal (Shapiro-Wilk, p < 0.01)
	FlagUnequalSpread    = "unequal_spread"      // treatments scatter unequally (Brown-Forsythe, p < 0.01)
)

// The flags of statements beside the comparisons.
const (
	FlagTrend             = "trend"              // the change of the effect in 30 days
	FlagSecondModel       = "second_model"       // the same pair by a mixed model
	FlagBetweenCrews      = "between_crews"      // crews, not treatments, are compared
	FlagBetweenSimulators = "between_simulators" // likewise, simulators
	FlagMonotone          = "monotone"           // all of one treatment ran off before any of the other
	FlagCommonEffect      = "common_effect"      // one effect in all events is supposed
	FlagConfounded        = "confounded"         // two things changed together and can't be told apart
	FlagBoundsLeftOut     = "bounds_left_out"    // treatments with an event that is known as a bound only are not in the model
	FlagUndated           = "undated"            // an event has no date
)

// wordNoRunoff is the flag of a plot value that is missing because the plot did not run off.
const wordNoRunoff = "no_runoff"
