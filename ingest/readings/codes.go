package readings

import "sheetwash/ingest/issue"

// The codes of what readings can have wrong with them. They are stable.
const (
	// CodeNotNumber: a value is not a number. Error.
	CodeNotNumber issue.Code = "readings.not_number"
	// CodeNotFinite: a value is NaN, infinite or too large. Error.
	CodeNotFinite issue.Code = "readings.not_finite"
	// CodeBadTime: a time is in none of the accepted forms. Error.
	CodeBadTime issue.Code = "readings.bad_time"
	// CodeNoTime: a reading has a value and no time. Error.
	CodeNoTime issue.Code = "readings.no_time"
	// CodeNoStart: a clock time or stamp in a run whose start is not known. Error.
	CodeNoStart issue.Code = "readings.no_start"
	// CodeTimeRange: a time lies more than a year from the start of rain. Error.
	CodeTimeRange issue.Code = "readings.time_range"
	// CodeNoRun: a reading has a value and no run. Error.
	CodeNoRun issue.Code = "readings.no_run"
	// CodeUnknownChannel: a channel is not one of the data dictionary's. Error.
	CodeUnknownChannel issue.Code = "readings.unknown_channel"
	// CodeUnknownUnit: a unit is unknown or does not suit the channel. Error.
	CodeUnknownUnit issue.Code = "readings.unknown_unit"
	// CodeMixedRate: one channel is given as depth and as volume per time. Error.
	CodeMixedRate issue.Code = "readings.mixed_rate"
	// CodeTooManySeries: more series than can be held. Error.
	CodeTooManySeries issue.Code = "readings.too_many_series"
	// CodeDuplicateTime: two readings of a series that follow one another have one time. Warning.
	CodeDuplicateTime issue.Code = "readings.duplicate_time"
	// CodeCoarsened: the bins were made wider than asked for to bound memory. Warning.
	CodeCoarsened issue.Code = "readings.coarsened"
	// CodeBeforeRain: readings lie before the start of rain; they are kept. Note.
	CodeBeforeRain issue.Code = "readings.before_rain"
	// CodeDefaultUnit: readings of a channel name no unit; its own is taken. Note.
	CodeDefaultUnit issue.Code = "readings.default_unit"
)

// Codes returns the codes of this package in a fixed order.
func Codes() []issue.Code {
	return []issue.Code{
		CodeNotNumber, CodeNotFinite, CodeBadTime, CodeNoTime, CodeNoStart, CodeTimeRange, CodeNoRun,
		CodeUnknownChannel, CodeUnknownUnit, CodeMixedRate, CodeTooManySeries,
		CodeDuplicateTime, CodeCoarsened, CodeBeforeRain, CodeDefaultUnit,
	}
}
