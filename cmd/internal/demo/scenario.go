package demo

import "sheetwash/analysis/simulate"

// seed starts every random draw of the season.
const seed = 20310414

// treatment is a management with the parameters that its plots scatter about.
type treatment struct {
	name                 string
	landUse, coverKind   string
	coverPct             float64
	f0, fc, k            float64 // Horton capacity, mm/h, mm/h, 1/h
	depressionMM         float64
	reservoirMin         float64
	freshGL, finalGL     float64 // concentration of the first water and of the last
	concentrationDecline float64 // 1/h
}

// The seven treatments of the season, by the names that the files use.
var (
	standing = treatment{"barley stubble left standing", "arable", "standing stubble", 65, 120, 30, 9, 1.2, 0.5, 3.2, 1.6, 6}
	disked   = treatment{"barley stubble disked in", "arable", "residue", 15, 130, 17, 10, 1.0, 0.4, 8.5, 5.2, 6}
	potato   = treatment{"potato ridges, bare", "arable", "none", 2, 95, 9, 11, 0.6, 0.3, 19, 12, 7}
	ley      = treatment{"meadow fescue ley", "meadow", "living grass", 95, 150, 52, 7, 2.0, 0.8, 0.7, 0.35, 5}
	mulched  = treatment{"vineyard alley with straw mulch", "vineyard", "straw mulch", 80, 135, 38, 8, 1.8, 0.7, 1.3, 0.75, 5}
	bareVine = treatment{"vineyard alley, bare", "vineyard", "none", 5, 90, 12, 10, 0.5, 0.3, 13, 8.5, 6}
	oak      = treatment{"oak-wood litter", "forest", "leaf litter", 98, 240, 110, 5, 2.5, 1.0, 0.4, 0.2, 5}
)

// runPlan is one application of rain with its plots in order of position.
type runPlan struct {
	id, sequence string
	plots        []treatment
}

// event is one field day.
type event struct {
	folder, place, crew, simulator, day string
	intensityMMH, rainMin, waterC       float64
	runs                                []runPlan
	schedule                            simulate.Schedule
	instruments                         simulate.Instruments
	slopePct                            float64
	onset                               onsetHabit
	sameSoil                            bool // the runs share their soil, plot by plot
	soilWater                           bool // drain, tray, turbidity and nitrate are noted as well
	cans                                bool // the intensity is that of catch cans, and not in the runs
	write                               func(day) ([]File, error)
	mishaps                             func(*day)
}

// onsetHabit is what a crew writes down about the first runoff.
type onsetHabit uint8

const (
	notesOnset   onsetHabit = iota // the time, or "none"
	notesNoOnset                   // nothing: the cell stays empty
)

// bottle readings of the crews: amber reads millilitres to 5, slate fluid ounces
// to a tenth, teal weighs to 0.1 g.
var (
	amberReads = simulate.Instruments{VolumeRel: 0.005, VolumeML: 2, VolumeStepML: 5, StopwatchMin: 1.0 / 60, TimeStepMin: 1.0 / 60, SedimentG: 0.01}
	slateReads = simulate.Instruments{VolumeRel: 0.005, VolumeML: 2, VolumeStepML: mlPerFluidOunce / 10, StopwatchMin: 1.0 / 60, TimeStepMin: 1.0 / 60, SedimentG: 0.01}
	tealReads  = simulate.Instruments{VolumeRel: 0.001, VolumeML: 0.2, StopwatchMin: 1.0 / 60, TimeStepMin: 1.0 / 60, SedimentG: 0.01}
)

// the collecting habits: a row of bottles from the start of rain, or one bottle
// after another from the first flow, the water that runs off after the rain in
// one more bottle.
var (
	rowOfBottles  = simulate.Schedule{N: 10, RecessionMin: 2}
	fromFirstFlow = simulate.Schedule{N: 8, AtOnset: true, RecessionMin: 2}
)

// season lists the field days. The plans are unbalanced on purpose: no treatment
// stands at every place.
func season() []event {
	return []event{
		{
			folder: "01-ashlock-mill", place: "Ashlock Mill", crew: "amber", simulator: "trailer-1", day: "2031-04-14",
			intensityMMH: 70, rainMin: 30, waterC: 12, slopePct: 4, schedule: rowOfBottles, instruments: amberReads,
			runs:  []runPlan{{"AM-1", "", []treatment{standing, disked, potato, ley, oak}}, {"AM-2", "", []treatment{disked, standing, potato, ley, oak}}},
			write: plainCSV, soilWater: true,
			mishaps: func(d *day) { d.unfiltered("AM-1", "2", 4, 7); d.unfiltered("AM-1", "3", 5) },
		},
		{
			folder: "02-dunmarrow", place: "Dunmarrow", crew: "slate", simulator: "trailer-2", day: "2031-04-29",
			intensityMMH: 2.75 * mmPerInch, rainMin: 30, waterC: 14, slopePct: 3, schedule: fromFirstFlow, instruments: slateReads,
			runs:  []runPlan{{"DM-1", "", []treatment{disked, potato, mulched, bareVine}}, {"DM-2", "", []treatment{potato, disked, bareVine, mulched}}},
			write: usCSV,
		},
		{
			folder: "03-fenwick-holt", place: "Fenwick Holt", crew: "teal", simulator: "trailer-1", day: "2031-05-08",
			intensityMMH: 65, rainMin: 30, waterC: 13, slopePct: 6, schedule: rowOfBottles, instruments: amberReads, onset: notesNoOnset,
			runs:  []runPlan{{"FH-1", "", []treatment{standing, ley, oak, mulched, bareVine}}},
			write: semicolonCSV,
		},
		{
			folder: "04-pell-farm", place: "Pell Farm", crew: "amber", simulator: "trailer-1", day: "2031-05-20",
			intensityMMH: 75, rainMin: 30, waterC: 15, slopePct: 5, schedule: rowOfBottles, instruments: amberReads,
			runs:  []runPlan{{"PF-1", "", []treatment{potato, standing, disked, ley}}, {"PF-2", "", []treatment{standing, potato, ley, disked}}},
			write: packedCSV, mishaps: func(d *day) { d.overflow("PF-1", "1"); d.gap("PF-2", "5") },
		},
		{
			folder: "05-quarry-rise", place: "Quarry Rise", crew: "slate", simulator: "trailer-2", day: "2031-06-03",
			intensityMMH: 3 * mmPerInch, rainMin: 30, waterC: 16, slopePct: 8, schedule: fromFirstFlow, instruments: slateReads,
			runs:  []runPlan{{"QR-1", "", []treatment{bareVine, mulched, oak, standing}}, {"QR-2", "", []treatment{mulched, bareVine, standing, oak}}},
			write: workbook,
		},
		{
			folder: "06-saltern-green", place: "Saltern Green", crew: "teal", simulator: "trailer-1", day: "2031-06-12",
			intensityMMH: 70, rainMin: 30, waterC: 17, slopePct: 2, schedule: rowOfBottles, instruments: tealReads,
			runs:  []runPlan{{"SG-1", "", []treatment{disked, ley, potato, bareVine, mulched}}},
			write: columnarFiles, mishaps: func(d *day) { d.pool("SG-1", "3") },
		},
		{
			folder: "07-larkmere", place: "Larkmere", crew: "amber", simulator: "trailer-1", day: "2031-06-25",
			intensityMMH: 68, rainMin: 36, waterC: 18, slopePct: 4, schedule: simulate.Schedule{N: 12, RecessionMin: 2}, instruments: amberReads,
			runs:  []runPlan{{"LM-1", "", []treatment{ley, standing, bareVine, disked}}},
			write: oneTable,
		},
		{
			folder: "08-copper-lea", place: "Copper Lea", crew: "slate", simulator: "trailer-2", day: "2031-07-09",
			intensityMMH: 2.5 * mmPerInch, rainMin: 30, waterC: 19, slopePct: 5, schedule: fromFirstFlow, instruments: slateReads,
			runs:  []runPlan{{"CL-1", "", []treatment{standing, disked, mulched, standing, disked}}},
			write: ownNames,
		},
		{
			folder: "09-tarn-gate", place: "Tarn Gate", crew: "teal", simulator: "trailer-3", day: "2031-07-22", cans: true,
			intensityMMH: 72, rainMin: 30, waterC: 19, slopePct: 7, schedule: loggerSchedule,
			runs:  []runPlan{{"TG-1", "", []treatment{potato, ley, mulched, disked}}},
			write: loggerFiles,
		},
		{
			folder: "10-hollin-bank", place: "Hollin Bank", crew: "amber", simulator: "trailer-1", day: "2031-08-05",
			intensityMMH: 70, rainMin: 30, waterC: 20, slopePct: 5, schedule: rowOfBottles, instruments: amberReads,
			runs:  []runPlan{{"HB-1", "", []treatment{oak, potato, standing, ley}}, {"HB-2", "", []treatment{potato, oak, ley, standing}}},
			write: zipped, mishaps: func(d *day) { d.exclude("HB-2", "8", "cattle had trodden the plot") },
		},
		{
			folder: "11-wether-hill", place: "Wether Hill", crew: "slate", simulator: "trailer-2", day: "2031-08-19",
			intensityMMH: 2.75 * mmPerInch, rainMin: 30, waterC: 18, slopePct: 9, schedule: fromFirstFlow, instruments: slateReads, sameSoil: true,
			runs:  []runPlan{{"WH-1", "dry", []treatment{bareVine, mulched, disked, standing}}, {"WH-2", "wet", []treatment{bareVine, mulched, disked, standing}}},
			write: usCSV,
		},
		{
			folder: "12-brackenfold", place: "Brackenfold", crew: "teal", simulator: "trailer-1", day: "2031-09-02",
			intensityMMH: 66, rainMin: 30, waterC: 16, slopePct: 3, schedule: rowOfBottles, instruments: tealReads,
			runs:  []runPlan{{"BF-1", "", []treatment{standing, bareVine, potato, ley, mulched}}},
			write: weighedCSV,
		},
	}
}
