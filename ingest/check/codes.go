package check

import "sheetwash/ingest/issue"

// The codes of the rules, in the order of Catalogue. They are stable: a code
// never changes its meaning.
const (
	RunDuplicate        issue.Code = "run.duplicate"
	RunUnknown          issue.Code = "run.unknown"
	RunNoPlots          issue.Code = "run.no_plots"
	PlotDuplicate       issue.Code = "plot.duplicate"
	PlotUnknown         issue.Code = "plot.unknown"
	PlotNoData          issue.Code = "plot.no_data"
	PlotNoIntensity     issue.Code = "plot.no_intensity"
	PlotRepeated        issue.Code = "plot.repeated"
	KeyMissing          issue.Code = "key.missing"
	CellMissing         issue.Code = "cell.missing"
	NumberNegative      issue.Code = "number.negative"
	AreaNotPositive     issue.Code = "area.not_positive"
	AreaImplausible     issue.Code = "area.implausible"
	RainNotPositive     issue.Code = "rain_duration.not_positive"
	RainImplausible     issue.Code = "rain_duration.implausible"
	IntensityZero       issue.Code = "intensity.not_positive"
	IntensityOdd        issue.Code = "intensity.implausible"
	PressureOdd         issue.Code = "pressure.implausible"
	TemperatureRange    issue.Code = "temperature.out_of_range"
	TemperatureOdd      issue.Code = "temperature.implausible"
	TemperatureOutlier  issue.Code = "temperature.outlier"
	TemperatureDefault  issue.Code = "temperature.default"
	SlopeSteep          issue.Code = "slope.steep"
	AreaNoSlope         issue.Code = "area.no_slope"
	PercentRange        issue.Code = "percent.out_of_range"
	SoilNotPositive     issue.Code = "soil.not_positive"
	SoilImplausible     issue.Code = "soil.implausible"
	StorageIncomplete   issue.Code = "storage.incomplete"
	DissolvedOdd        issue.Code = "dissolved_solids.implausible"
	TreatmentSpelling   issue.Code = "treatment.spelling"
	ExcludeNoReason     issue.Code = "exclude.no_reason"
	OnsetAfterRain      issue.Code = "runoff_start.after_rain"
	OnsetAfterWater     issue.Code = "runoff_start.after_water"
	OnsetNoneButWater   issue.Code = "runoff_start.none_but_water"
	OnsetBeforePonding  issue.Code = "runoff_start.before_ponding"
	OnsetNoWater        issue.Code = "runoff_start.no_water"
	SampleNoPlot        issue.Code = "sample.no_plot"
	SampleSwapped       issue.Code = "sample.swapped"
	SampleEmptyInterval issue.Code = "sample.empty_interval"
	SampleOverlap       issue.Code = "sample.overlap"
	SampleDuplicate     issue.Code = "sample.duplicate"
	SampleGap           issue.Code = "sample.gap"
	SampleStopsEarly    issue.Code = "sample.stops_early"
	SampleLate          issue.Code = "sample.late"
	SampleLateChange    issue.Code = "sample.late_change"
	SampleClockTimes    issue.Code = "sample.clock_times"
	SampleNotMeasured   issue.Code = "sample.not_measured"
	StartDefault        issue.Code = "sample.start_default"
	FlagNoVolume        issue.Code = "flag.no_volume"
	FlagLostVolume      issue.Code = "flag.lost_volume"
	BlankPlot           issue.Code = "blank.plot"
	BlankUnused         issue.Code = "blank.unused"
	BlankMissing        issue.Code = "blank.missing"
	RemainderSetAside   issue.Code = "remainder.set_aside"
	GrossBelowTare      issue.Code = "mass.gross_below_tare"
	TareMissing         issue.Code = "mass.tare_missing"
	VolumeDisagrees     issue.Code = "volume.disagrees"
	VolumeOdd           issue.Code = "volume.implausible"
	RunoffExceedsRain   issue.Code = "balance.runoff_exceeds_rain"
	SedimentBelowTare   issue.Code = "sediment.gross_below_tare"
	SedimentNotDetected issue.Code = "sediment.not_detected"
	SedimentTareMissing issue.Code = "sediment.tare_missing"
	SedimentDisagrees   issue.Code = "sediment.disagrees"
	SedimentOdd         issue.Code = "sediment.implausible"
	SedimentPending     issue.Code = "sediment.pending"
	SedimentNoWater     issue.Code = "sediment.no_water"
	ReadingFalls        issue.Code = "reading.falls"
	ReadingNoPlot       issue.Code = "reading.no_plot"
	CanNoDepth          issue.Code = "can.no_depth"
	CanNoSize           issue.Code = "can.no_size"
	CanDisagrees        issue.Code = "can.disagrees"
	CanDuration         issue.Code = "can.duration_not_positive"
	CanSingle           issue.Code = "can.single"
	CanMixed            issue.Code = "can.mixed"
	PressureBand        issue.Code = "pressure.outside_band"
	CoverUnsuited       issue.Code = "cover.unsuited"
	PlacementFixed      issue.Code = "treatment.confounded_position"
	PlacementOnce       issue.Code = "treatment.one_placement"
	FirstMissing        issue.Code = "sample.first_missing"
	SupplyTooSmall      issue.Code = "supply.too_small"
	LevelNotConfirmed   issue.Code = "level.not_confirmed"
	PositionUnknown     issue.Code = "position.unknown"
	SlopeNoClass        issue.Code = "slope.no_class"
	PlotTooMany         issue.Code = "plot.too_many"
	ProfileNoSimulator  issue.Code = "profile.no_simulator"
)

// Entry is one row of the catalogue of codes.
type Entry struct {
	Code     issue.Code
	Severity issue.Severity
	Meaning  string // what was found
	Advice   string // what to do
}

// Catalogue returns every code of this package with its severity, its meaning
// and what to do. The caller must not write to it.
func Catalogue() []Entry { return catalogue }

// SeverityOf returns the severity of a code of this package.
func SeverityOf(c issue.Code) issue.Severity {
	for i := range catalogue {
		if catalogue[i].Code == c {
			return catalogue[i].Severity
		}
	}
	return issue.Error
}

var catalogue = []Entry{
	{RunDuplicate, issue.Error, "a run stands in two rows of runs", "give each application of rain its own identifier, or delete the row that stands twice"},
	{RunUnknown, issue.Error, "a plot, sample or reading names a run that does not exist", "correct the identifier, or add the run"},
	{RunNoPlots, issue.Warning, "a run has no plot", "add its plots, or delete the run; it adds nothing to the results"},
	{PlotDuplicate, issue.Error, "a plot stands twice under one run", "give each plot of a run its own identifier, or delete the row that stands twice"},
	{PlotUnknown, issue.Error, "a sample or reading names a plot that its run does not have", "correct the identifier, or add the plot"},
	{PlotNoData, issue.Warning, "a plot has neither a sample nor a runoff reading", "add its bottles, or write none in runoff_start if it did not run off; without either it has no runoff result"},
	{PlotNoIntensity, issue.Error, "no rain intensity is known for a plot: neither its own, nor its run's, nor one from rain readings or catch cans", "fill in runs.intensity or plots.intensity, or add the catch cans of the run's simulator"},
	{PlotRepeated, issue.Warning, "the same plot stands under two runs of one event without an experimental_unit; it is taken for the same soil rained on again", "fill in experimental_unit: the same word where it is the same soil, different words where it is not"},
	{KeyMissing, issue.Error, "a cell that identifies the row is empty", "fill in the identifier"},
	{CellMissing, issue.Error, "a required cell is empty", "fill in the value"},
	{NumberNegative, issue.Error, "a quantity that cannot be negative is", "correct the value, or empty the cell if it was not measured"},
	{AreaNotPositive, issue.Error, "the catching area of a plot is zero", "fill in the area"},
	{AreaImplausible, issue.Warning, "a plot is smaller than 0.01 m2 or larger than 200 m2", "check the unit of the area"},
	{RainNotPositive, issue.Error, "the duration of rain is zero", "fill in the minutes from rain on to rain off"},
	{RainImplausible, issue.Warning, "the duration of rain is under 1 min or over 12 h", "check the unit of the duration"},
	{IntensityZero, issue.Error, "a rain intensity is zero", "fill in the intensity, or empty the cell if it was not measured"},
	{IntensityOdd, issue.Warning, "a rain intensity lies outside 1 to 500 mm/h", "check the unit of the intensity"},
	{PressureOdd, issue.Warning, "a nozzle pressure lies outside 1 to 1000 kPa", "check the unit of the pressure"},
	{TemperatureRange, issue.Error, "a water temperature lies outside -5 to 60 Cel", "correct the value or the unit"},
	{TemperatureOdd, issue.Warning, "a water temperature lies outside 0 to 45 Cel", "check the value"},
	{TemperatureOutlier, issue.Warning, "the water temperature of a bottle is more than 5 K from the median of its run", "look for a lost leading digit; the value is used as it stands"},
	{TemperatureDefault, issue.Note, "bottles of a run were weighed and the temperature of its water is not given; 20 Cel is taken for its density", "fill in water_temperature; 10 K change the volume by 0.2 %"},
	{SlopeSteep, issue.Warning, "a slope is above 100 %", "check whether it was entered in degrees or as a fraction"},
	{AreaNoSlope, issue.Error, "an area measured along the slope has no slope to project it with", "fill in the slope, or give the horizontal area"},
	{PercentRange, issue.Error, "a cover or water content lies outside 0 to 100 %", "correct the value or the unit"},
	{SoilNotPositive, issue.Error, "a depth, a bulk density or a mass of soil is zero", "correct the value, or empty the cell if it was not measured"},
	{SoilImplausible, issue.Warning, "a bulk density lies outside 0.05 to 2.65 g/cm3, a depth of soil outside 1 to 2000 mm, or a water content by mass is above 1000 %", "check the unit of the value"},
	{StorageIncomplete, issue.Warning, "a measurement of the water stored in the soil lacks a part, and tells nothing without it", "fill in the column that the finding names"},
	{DissolvedOdd, issue.Warning, "the dissolved solids of the supply water exceed 10 g/L", "check the unit: a hard water has 0.3 to 0.5 g/L"},
	{TreatmentSpelling, issue.Warning, "two treatments differ only in case, blanks or hyphens and are kept apart", "write them alike if they are the same treatment"},
	{ExcludeNoReason, issue.Warning, "a row is excluded without a reason", "fill in exclude_reason; a reader will ask"},
	{OnsetAfterRain, issue.Warning, "runoff was noted to start after the end of rain", "check runoff_start and rain_duration"},
	{OnsetAfterWater, issue.Warning, "runoff was noted to start after a bottle that holds water had ended", "check runoff_start and the times of the bottle"},
	{OnsetNoneButWater, issue.Error, "runoff_start says none, but bottles that ended during rain hold water", "enter the start of runoff, or flag the bottles trace"},
	{OnsetBeforePonding, issue.Warning, "runoff was noted to start before ponding", "check both times"},
	{OnsetNoWater, issue.Warning, "runoff was noted to start during rain, but every bottle of the plot is empty", "write none if nothing ran off, or flag the bottles trace, lost or overflow"},
	{SampleNoPlot, issue.Error, "a sample names no plot", "fill in the plot; only a blank belongs to the run"},
	{SampleSwapped, issue.Error, "a sample ends before it starts", "swap start and end, or correct them"},
	{SampleEmptyInterval, issue.Error, "a sample ends when it starts", "correct start or end"},
	{SampleOverlap, issue.Error, "two bottles of one plot and stream overlap in time", "correct their times; one plot cannot fill two bottles at once"},
	{SampleDuplicate, issue.Error, "two rows hold the same bottle", "delete one of them"},
	{SampleGap, issue.Note, "nothing was caught between two bottles; the depth over the gap is interpolated from the neighbouring rates", "nothing, if the water was let go; else add the missing bottle"},
	{SampleStopsEarly, issue.Warning, "the bottles of a plot stop before the end of rain while water was still flowing", "add the missing bottles; depth and soil loss cover the time that was caught"},
	{SampleLate, issue.Warning, "a bottle ends more than an hour and the duration of rain after the end of rain", "check the unit of the times"},
	{SampleLateChange, issue.Note, "one bottle is too full and the next too light by the same amount: the change may have been late; together they are right", "nothing, or correct the time of the change"},
	{SampleClockTimes, issue.Error, "the times of all bottles of a run are times of day by the look of them, and were read as time from the start of rain", "write clock: true for start and end in mapping.yaml, or give minutes from the start of rain"},
	{SampleNotMeasured, issue.Warning, "a bottle has no volume, no mass, no sediment and no flag; it is taken for a gap", "fill in what was measured, enter 0 if the bottle was empty, or flag it lost"},
	{StartDefault, issue.Note, "the start of a bottle is not given; the end of the one before is taken, and 0 for the first", "fill in start where that is not so"},
	{FlagNoVolume, issue.Warning, "a bottle is flagged overflow, spilled or leak but has no volume, or an empty one, to be a lower bound", "fill in what was left, or flag it lost"},
	{FlagLostVolume, issue.Warning, "a bottle is flagged lost but has a volume; the volume is not used", "remove the flag, or empty the volume"},
	{BlankPlot, issue.Note, "a blank names a plot; it is taken as a blank of the run", "leave the plot of a blank empty"},
	{BlankUnused, issue.Note, "a run has blanks that are not subtracted, since subtract_blank is not true", "set subtract_blank to true if sediment masses still contain the blank"},
	{BlankMissing, issue.Warning, "subtract_blank is true but the run has no blank with a sediment mass", "add the blank, or set subtract_blank to false"},
	{RemainderSetAside, issue.Note, "what was washed off the plot after the run is kept and is never part of soil loss", "nothing"},
	{GrossBelowTare, issue.Error, "a full bottle weighs less than the empty one", "look for swapped or mistyped masses"},
	{TareMissing, issue.Error, "a full bottle has no empty mass and no volume", "fill in tare_mass, or flag the bottle lost"},
	{VolumeDisagrees, issue.Warning, "volume and the volume from gross and tare mass disagree", "correct one of them; the volume is used"},
	{VolumeOdd, issue.Warning, "a bottle holds more than 20 times the rain that fell on its plot during its interval", "check the units of volume, area and times"},
	{RunoffExceedsRain, issue.Warning, "more ran off a plot than rained on it", "check area, intensity and whether rain beside the plot ran into the funnel"},
	{SedimentBelowTare, issue.Error, "a dish or filter with sediment weighs less than the empty one by more than the balance allows", "look for swapped or mistyped masses"},
	{SedimentNotDetected, issue.Note, "a dish or filter with sediment weighs less than the empty one within the error of the balance; the sediment is taken as not detected", "nothing"},
	{SedimentTareMissing, issue.Error, "a dish or filter with sediment has no empty mass", "fill in sediment_tare_mass"},
	{SedimentDisagrees, issue.Warning, "two statements of the sediment of one bottle disagree", "correct one of them; sediment_mass goes before masses of the dish, and these before the concentration"},
	{SedimentOdd, issue.Warning, "the sediment of a bottle exceeds 500 g/L of suspension", "check the units of sediment and volume"},
	{SedimentPending, issue.Note, "sediment is not yet weighed for some bottles, and no turbidity rating supplies it; results from it are marked pending", "fill in the masses when they are there and run again"},
	{SedimentNoWater, issue.Warning, "there is sediment of a time in which no water was read", "fill in the volume of the bottle, or flag it lost"},
	{ReadingFalls, issue.Warning, "a cumulative logger channel falls", "look for an emptied container or a reset; the fall counts as negative flow"},
	{ReadingNoPlot, issue.Error, "readings of runoff or drainage name no plot", "fill in the plot"},
	{CanNoDepth, issue.Error, "a catch can has neither a depth nor a volume", "fill in one of them, or delete the row"},
	{CanNoSize, issue.Error, "a catch can has a volume but neither can_area nor can_diameter", "fill in the size of the mouth, or give the depth"},
	{CanDisagrees, issue.Warning, "two statements about one catch can disagree", "correct one; depth goes before volume, can_area before can_diameter"},
	{CanDuration, issue.Error, "the duration of a catch is zero", "fill in the minutes of the catch"},
	{CanSingle, issue.Warning, "a calibration has only one can", "add cans; a pattern and its uniformity need more than one"},
	{CanMixed, issue.Warning, "the cans of one calibration name several simulators or days; the first simulator and the latest day are taken", "give each simulator and day a calibration of its own"},
	{PressureBand, issue.Warning, "a pressure lies outside the band of the simulator's profile", "set the regulator; intensity and drops are another rain's, and the results are flagged, never corrected"},
	{CoverUnsuited, issue.Warning, "a kind of cover does not suit the use of the land", "check cover_kind and land_use; list what suits in simulator.yaml if the rule is wrong for this crew"},
	{PlacementFixed, issue.Warning, "no position ever held two treatments in any of several runs, so that differences between treatments hold those between positions", "change places between runs, or give the intensity at each position"},
	{PlacementOnce, issue.Note, "each position held one treatment in the only run, so that differences between treatments hold those between positions", "run again with places changed, or give the intensity at each position"},
	{FirstMissing, issue.Warning, "the first bottle of a plot begins after runoff did", "add the bottle that is missing, or correct runoff_start; the volume before it is lost to the results"},
	{SupplyTooSmall, issue.Warning, "the run takes more water than the tank of the simulator's profile gives", "fill up before the run; a falling tank lowers the pressure"},
	{LevelNotConfirmed, issue.Warning, "the profile asks for it, and the run does not say that the table was levelled; or the run says that it was not", "level the table, look below the plots, and set level_confirmed to true"},
	{PositionUnknown, issue.Warning, "a position is none of those of the simulator's profile", "correct the position of the plot or can, or the profile"},
	{ProfileNoSimulator, issue.Warning, "simulator.yaml has no profile of the simulator of a run, so that none of its bands hold for it", "correct the name in runs.simulator or in simulator.yaml, or add the profile"},
	{PlotTooMany, issue.Warning, "a run has more plots than the simulator's profile has places", "correct the run of the plot, or the profile"},
	{SlopeNoClass, issue.Warning, "a slope lies in none of the classes of the simulator's profile", "check the slope, or the classes of the profile"},
}
