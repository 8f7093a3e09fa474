package check

import (
	"fmt"

	"sheetwash/ingest/issue"
)

// Rule is one named rule over a draft.
type Rule struct {
	Name  string
	Codes []issue.Code // what it can report
	Check func(*Draft, *issue.List)
}

// Run links the draft's rows to one another, fills in the starts that the data
// dictionary gives by default, and asks every rule.
func Run(d *Draft, into *issue.List) {
	d.Link()
	FillStarts(d, into)
	for _, r := range Rules() {
		r.Check(d, into)
	}
}

// Rules returns all rules in the order in which they are asked.
func Rules() []Rule {
	return []Rule{
		{"required cells", []issue.Code{KeyMissing, CellMissing, SampleNoPlot}, required},
		{"unique keys", []issue.Code{RunDuplicate, PlotDuplicate}, uniqueKeys},
		{"references", []issue.Code{RunUnknown, PlotUnknown, RunNoPlots}, references},
		{"signs", []issue.Code{NumberNegative, AreaNotPositive, RainNotPositive, IntensityZero, CanDuration}, signs},
		{"plausible runs", []issue.Code{RainImplausible, IntensityOdd, PressureOdd}, plausibleRuns},
		{"plausible plots", []issue.Code{AreaImplausible, SlopeSteep, AreaNoSlope, PercentRange}, plausiblePlots},
		{"sizes of soil", []issue.Code{SoilNotPositive, SoilImplausible, DissolvedOdd}, soilSizes},
		{"parts of stored water", []issue.Code{StorageIncomplete}, storageHalves},
		{"temperatures", []issue.Code{TemperatureRange, TemperatureOdd, TemperatureOutlier}, temperatures},
		{"temperature of weighed water", []issue.Code{TemperatureDefault}, temperatureDefault},
		{"treatment spelling", []issue.Code{TreatmentSpelling}, treatmentSpelling},
		{"exclusions", []issue.Code{ExcludeNoReason}, exclusions},
		{"repeated plots", []issue.Code{PlotRepeated}, repeatedPlots},
		{"intensity", []issue.Code{PlotNoIntensity}, intensity},
		{"data of plots", []issue.Code{PlotNoData}, plotData},
		{"start of runoff", []issue.Code{OnsetAfterRain, OnsetAfterWater, OnsetNoneButWater, OnsetBeforePonding}, onset},
		{"start of runoff without water", []issue.Code{OnsetNoWater}, onsetWithoutWater},
		{"times of day", []issue.Code{SampleClockTimes}, clockTimes},
		{"intervals", []issue.Code{SampleSwapped, SampleEmptyInterval, SampleLate}, intervals},
		{"overlaps", []issue.Code{SampleOverlap, SampleDuplicate}, overlaps},
		{"gaps", []issue.Code{SampleGap, SampleStopsEarly}, gaps},
		{"late bottle changes", []issue.Code{SampleLateChange}, lateChanges},
		{"water", []issue.Code{GrossBelowTare, TareMissing, VolumeDisagrees, SampleNotMeasured}, waterReadings},
		{"volume against rain", []issue.Code{VolumeOdd, RunoffExceedsRain}, volumeAgainstRain},
		{"sediment", []issue.Code{SedimentBelowTare, SedimentNotDetected, SedimentTareMissing, SedimentDisagrees, SedimentOdd}, sedimentReadings},
		{"sediment without water", []issue.Code{SedimentNoWater}, sedimentWithoutWater},
		{"pending sediment", []issue.Code{SedimentPending}, pendingSediment},
		{"flags", []issue.Code{FlagNoVolume, FlagLostVolume}, flags},
		{"blanks and remainders", []issue.Code{BlankPlot, BlankUnused, BlankMissing, RemainderSetAside}, blanks},
		{"logger channels", []issue.Code{ReadingFalls}, loggerChannels},
		{"logger channels of plots", []issue.Code{ReadingNoPlot}, loggedWithoutPlot},
		{"pressure band", []issue.Code{PressureBand}, pressureBand},
		{"cover and land use", []issue.Code{CoverUnsuited}, coverSuits},
		{"placement of treatments", []issue.Code{PlacementFixed, PlacementOnce}, placement},
		{"first bottles", []issue.Code{FirstMissing}, firstBottles},
		{"water supply", []issue.Code{SupplyTooSmall}, supply},
		{"level", []issue.Code{LevelNotConfirmed}, level},
		{"places of the profile", []issue.Code{PositionUnknown, SlopeNoClass, PlotTooMany, ProfileNoSimulator}, places},
		{"catch cans", []issue.Code{CanNoDepth, CanNoSize, CanDisagrees, CanSingle, CanMixed}, cans},
	}
}

// report adds a finding at one cell.
func report(into *issue.List, code issue.Code, f *Frame, i int, column, format string, args ...any) {
	is := at(code, f, i, column)
	is.Message = f.AtLine(i, fmt.Sprintf(format, args...))
	into.Add(is)
}
