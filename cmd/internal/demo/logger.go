package demo

import (
	"fmt"

	"sheetwash/analysis/simulate"
)

// loggerSchedule has the logger read the mass under each plot every ten seconds:
// one "bottle" per reading, never changed, until the end of rain.
var loggerSchedule = simulate.Schedule{N: 180}

// loggerFiles is a day without bottles: a balance under each plot, read by a
// logger, all plots of one moment after another as loggers write them. Drops
// make the balances tremble by a tenth of a gram.
func loggerFiles(d day) ([]File, error) {
	g := grid{name: "readings", columns: []gridColumn{{"run", ""}, {"plot", ""}, {"time", "s"}, {"channel", ""}, {"value", ""}, {"unit", ""}}}
	for n, r := range d.runs {
		tremble := random(d.folder, "balances", n+1, 0)
		mass := make([]float64, len(r.plots))
		for reading := range loggerSchedule.N + 1 {
			for i, p := range r.plots {
				if reading > 0 {
					mass[i] += p.bottles[reading-1].volumeML.V * waterDensity
				}
				g.add(r.id, p.id, decimals(float64(reading)*d.rainMin*60/float64(loggerSchedule.N), 0), "runoff_mass",
					decimals(mass[i]+0.1*tremble.NormFloat64(), 1), "g")
			}
		}
	}
	files, err := d.csvFiles([]grid{d.cansGrid(), d.runsGrid(metric), d.plotsGrid(metric), g}, brackets)
	return append(files, d.in("simulator.yaml", []byte(profileFile))), err
}

// profileFile is the profile of the trailer of that day: a low-pressure nozzle on
// a boom, whose makers ask for 6 to 8 psi, and its drops as they were caught in flour.
const profileFile = `# invented demo data
simulators:
  trailer-3:
    nozzle: {count: 1, flow: 14 L/min, at: 7 psi}
    pressure: {from: 6 psi, to: 8 psi}
    fall_height: 3 m
    tray_share: 55 %
    tank: {volume: 60 gal, heel: 5 gal}
    plots: 5
    positions: [P1, P2, P3, P4, P5]
    slope_classes: [0-1 %, 1-3 %, 3-5 %, 5-8 %, 8-12 %, 12-15 %]
    drops:
      edges_mm: [0.4, 0.8, 1.2, 1.6, 2.0, 2.4, 2.8, 3.2, 3.6, 4.0]
      counts: [612, 701, 540, 388, 241, 130, 58, 21, 6]
    energy_uncertainty: 5 %
`

// waterDensity is that of water at 19 Cel, g/mL.
const waterDensity = 0.9984

// bottle masses of the weighed day: the tare differs from bottle to bottle.
func tareOf(n int) float64 { return 392.3 + 0.3*float64(n%7) }

// weighedCSV is a day on which every bottle was weighed full and empty, and the
// sediment is still in the oven for all but the first run of filters.
func weighedCSV(d day) ([]File, error) {
	g := grid{name: "samples", columns: []gridColumn{
		{"run", ""}, {"plot", ""}, {"stream", ""}, {"start", "min"}, {"end", "min"}, {"gross_mass", "g"}, {"tare_mass", "g"}, {"sediment_mass", "g"},
	}}
	n := 0
	for _, r := range d.runs {
		for _, p := range r.plots {
			for _, b := range p.bottles {
				n++
				water := (b.volumeML.V - b.sedimentG.V/2.65) * waterDensity16
				gross := tareOf(n) + water + b.sedimentG.V
				g.add(r.id, p.id, "runoff", decimals(b.startMin, 3), decimals(b.endMin, 3), fmt.Sprintf("%.1f", gross), fmt.Sprintf("%.1f", tareOf(n)), "")
			}
		}
	}
	return d.csvFiles([]grid{d.runsGrid(metric), d.plotsGrid(metric), g}, brackets)
}

// waterDensity16 is that of water at 16 Cel, g/mL.
const waterDensity16 = 0.99895
