package demo

import (
	"fmt"
	"math"
	"strconv"

	"sheetwash/analysis/quantity"
)

// units is the way in which a crew writes its numbers.
type units struct {
	intensity, area, volume, temperature, pressure, time string
	toIntensity, toArea, toVolume                        func(float64) string
	toTime                                               func(min string) string
}

func same(min string) string { return min }

// metric is how the amber and the teal crew write.
var metric = units{
	intensity: "mm/h", area: "m2", volume: "mL", temperature: "Cel", pressure: "kPa", time: "min",
	toIntensity: func(v float64) string { return decimals(v, 1) },
	toArea:      func(v float64) string { return decimals(v, 3) },
	toVolume:    func(v float64) string { return decimals(v, 1) },
	toTime:      same,
}

// customary is how the slate crew writes: inches an hour, square feet, fluid
// ounces to a tenth, and the stopwatch as it shows.
var customary = units{
	intensity: "in/h", area: "ft2", volume: "fl oz", temperature: "°F", pressure: "psi", time: clock,
	toIntensity: func(v float64) string { return decimals(v/mmPerInch, 2) },
	toArea:      func(v float64) string { return decimals(v/m2PerSquareFoot, 5) },
	toVolume:    func(v float64) string { return decimals(v/mlPerFluidOunce, 1) },
	toTime:      stopwatch,
}

// stopwatch writes minutes as h:mm:ss.
func stopwatch(min string) string {
	v, err := strconv.ParseFloat(min, 64)
	if err != nil {
		return min // "none" and the empty cell stay
	}
	s := int(math.Round(v * 60))
	return fmt.Sprintf("%d:%02d:%02d", s/3600, s/60%60, s%60)
}

// runsGrid is the runs table of a day.
func (d day) runsGrid(u units) grid {
	g := grid{name: "runs", columns: []gridColumn{
		{"run", ""}, {"event", ""}, {"season", ""}, {"site", ""}, {"crew", ""}, {"simulator", ""}, {"started", ""},
		{"intensity", u.intensity}, {"rain_duration", "min"}, {"sequence", ""}, {"water_temperature", u.temperature}, {"note", ""},
	}}
	for _, r := range d.runs {
		water := d.waterC
		if u.temperature == customary.temperature {
			water = water*9/5 + 32
		}
		intensity := ""
		if !d.cans {
			intensity = u.toIntensity(r.intensityMMH)
		}
		g.add(r.id, d.place, "2031", d.place, d.crew, d.simulator, r.started, intensity,
			decimals(d.rainMin, 1), r.sequence, decimals(water, 1), "invented demo data")
	}
	return g.prune()
}

// earlier are the calibrations of a simulator before a field day: its true intensity
// in each, mm/h.
var earlier = []struct {
	day          string
	intensityMMH float64
}{{"2031-04-08", 71.2}, {"2031-05-05", 71.0}, {"2031-05-26", 71.7}, {"2031-06-17", 71.5}, {"2031-07-04", 72.3}}

// cansGrid holds the calibrations of the simulator, the last of them on the morning of
// the field day: three cans at each position, caught for ten minutes and read to a
// tenth of a millimetre. The rain is the same everywhere; the cans scatter by 1 %.
func (d day) cansGrid() grid {
	g := grid{name: "cans", columns: []gridColumn{
		{"calibration", ""}, {"simulator", ""}, {"date", ""}, {"x", "cm"}, {"y", "cm"}, {"position", ""}, {"depth", "mm"}, {"duration", "min"},
	}}
	for i, e := range earlier {
		d.catch(&g, fmt.Sprintf("%s cans %d", d.simulator, i+1), e.day, e.intensityMMH, i+1)
	}
	d.catch(&g, d.runs[0].id+" cans", d.day, d.intensityMMH, 0)
	return g
}

// catch adds one calibration.
func (d day) catch(g *grid, name, date string, intensityMMH float64, n int) {
	const minutes, perPosition = 10, 3
	scatter := random(d.folder, "cans", n, 0)
	for i := range d.runs[0].plots {
		for k := range perPosition {
			depth := intensityMMH * minutes / 60 * (1 + 0.01*scatter.NormFloat64())
			g.add(name, d.simulator, date, fmt.Sprint(60*i+30), fmt.Sprint(30*k+20), fmt.Sprintf("P%d", i+1), decimals(depth, 1), fmt.Sprint(minutes))
		}
	}
}

// plotsGrid is the plots table of a day.
func (d day) plotsGrid(u units) grid {
	g := grid{name: "plots", columns: []gridColumn{
		{"run", ""}, {"plot", ""}, {"treatment", ""}, {"area", u.area}, {"position", ""}, {"experimental_unit", ""},
		{"slope", "%"}, {"cover", "%"}, {"cover_kind", ""}, {"land_use", ""}, {"runoff_start", u.time}, {"exclude", ""}, {"exclude_reason", ""},
		{"soil_mass_before", "g"}, {"soil_mass_after", "g"},
	}}
	for _, r := range d.runs {
		for i, p := range r.plots {
			exclude := ""
			if p.excluded != "" {
				exclude = "true"
			}
			g.add(r.id, p.id, p.name, u.toArea(areaM2), fmt.Sprintf("P%d", i+1), p.unit,
				decimals(d.slopePct, 1), decimals(p.coverPct, 0), p.coverKind, p.landUse, u.toTime(p.onset), exclude, p.excluded,
				optional(p.soilBeforeG, 0), optional(p.soilAfterG, 0))
		}
	}
	return g.prune()
}

// samplesGrid is the samples table of a day.
func (d day) samplesGrid(u units) grid {
	g := grid{name: "samples", columns: []gridColumn{
		{"run", ""}, {"plot", ""}, {"stream", ""}, {"start", u.time}, {"end", u.time},
		{"volume", u.volume}, {"sediment_mass", "g"}, {"flag", ""}, {"turbidity", "NTU"}, {"analyte_nitrate", "mg/L"},
	}}
	for _, r := range d.runs {
		for _, p := range r.plots {
			for _, b := range p.bottles {
				g.add(r.id, p.id, "runoff", u.toTime(decimals(b.startMin, 3)), u.toTime(decimals(b.endMin, 3)),
					volume(u, b.volumeML), optional(b.sedimentG, 2), b.flag, optional(b.turbidityNTU, 0), optional(b.nitrateMgL, 2))
			}
			if p.drainedML.OK {
				g.add(r.id, p.id, "drainage", u.toTime("0"), u.toTime(decimals(d.rainMin+30, 3)), volume(u, p.drainedML), "", "", "", "")
			}
		}
	}
	return g.prune()
}

func volume(u units, v quantity.Optional) string {
	if !v.OK {
		return ""
	}
	return u.toVolume(v.V)
}

// tables are the three tables of a day.
func (d day) tables(u units) []grid {
	return []grid{d.runsGrid(u), d.plotsGrid(u), d.samplesGrid(u)}
}
