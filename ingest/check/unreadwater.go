package check

import (
	"fmt"

	"sheetwash/analysis/experiment"
	"sheetwash/ingest/issue"
)

// onsetWithoutWater reports plots whose start of runoff was noted during rain
// though every bottle until its end is empty.
func onsetWithoutWater(d *Draft, into *issue.List) {
	if d.Broken["samples"] {
		return
	}
	f, start := d.Plots, d.Plots.Column("runoff_start")
	b := readBottles(d)
	for i := range f.N {
		v, ok := start.Value(i)
		rain, known := rainMin(d, i)
		if !ok || !known || v >= rain || flowLogged(d, i) {
			continue
		}
		last, empty := -1, true
		for _, row := range d.Links.Samples(i) {
			j := int(row)
			if b.stream.Word(j) != "runoff" || b.exclude.True(j) {
				continue
			}
			if w, read := b.water(j); !read && b.carriesWater(j) || w > 0 || b.flag.Has(j) && b.flag.Word(j) != "ok" {
				empty = false
				break
			} else if read {
				last = j
			}
		}
		if empty && last >= 0 {
			report(into, OnsetNoWater, f, i, "runoff_start", "runoff is noted at %s min, but every bottle is empty (the last in row %d of the samples): write none if nothing ran off, or flag the bottles trace, lost or overflow", figure(v), d.Samples.Row(last))
		}
	}
}

// sedimentWithoutWater reports sediment of runoff in whose time no water was
// read: the row has no volume or an empty one, and no other bottle of the plot
// covers it.
func sedimentWithoutWater(d *Draft, into *issue.List) {
	if d.Broken["samples"] {
		return
	}
	b := readBottles(d)
	var water covering
	for p := range d.Plots.N {
		rows := d.Links.Samples(p)
		if len(rows) == 0 || flowLogged(d, p) {
			continue
		}
		b.cover(&water, rows, b.mayHoldWater)
		for _, row := range rows {
			sedimentOfNoWater(d, &b, int(row), &water, into)
		}
	}
}

func sedimentOfNoWater(d *Draft, b *bottles, i int, water *covering, into *issue.List) {
	if b.stream.Word(i) != "runoff" || b.exclude.True(i) || b.mayHoldWater(i) {
		return
	}
	column := "sediment_mass"
	m, ok := b.dry(i)
	if c, stated := b.concentration.Value(i); !ok && stated {
		column, m, ok = "concentration", c, c > 0
	} else if !b.sediment.Has(i) {
		column = "sediment_gross_mass"
	}
	start, end, timed := b.interval(i)
	if !ok || !timed || column != "concentration" && m <= 3*d.Errors.SedimentG || water.overlaps(start, end) {
		return
	}
	report(into, SedimentNoWater, d.Samples, i, column, "there is sediment, but no water was read in its time: fill in the volume of the bottle, or flag it lost")
}

// mayHoldWater reports whether a row holds water, or may: cells that a finding
// already names are not held against it.
func (b *bottles) mayHoldWater(i int) bool {
	w, read := b.water(i)
	flagged := b.flag.Has(i) && b.flag.Word(i) != "ok"
	return read && w > 0 || flagged || b.volume.Is(i) == Invalid || b.gross.Is(i) == Invalid || b.tare.Is(i) == Invalid
}

// loggedWithoutPlot reports logger channels of flow that name no plot.
func loggedWithoutPlot(d *Draft, into *issue.List) {
	for _, r := range d.Readings {
		switch r.Series.Channel {
		case experiment.RunoffMass, experiment.RunoffVolume, experiment.RunoffRate,
			experiment.DrainageMass, experiment.DrainageVolume, experiment.DrainageRate:
		default:
			continue
		}
		if r.Plot == "" {
			into.Add(issue.Issue{Code: ReadingNoPlot, Severity: SeverityOf(ReadingNoPlot), File: r.Series.Place.File, Table: "readings", Row: r.Row, Column: "plot",
				Message: fmt.Sprintf("readings of %s of run %s name no plot: fill in whose flow it is", r.Series.Channel, quote(r.Run))})
		}
	}
}

// temperatureDefault notes, once per file of runs, for how many runs bottles
// were weighed while the temperature of the water is not given.
func temperatureDefault(d *Draft, into *issue.List) {
	b := readBottles(d)
	own := d.Samples.Column("water_temperature")
	weighed := make([]bool, d.Runs.N)
	for i := range d.Samples.N {
		r := d.Links.RunOfSample(i)
		if r >= 0 && b.timed(i) && b.gross.Has(i) && b.tare.Has(i) && !b.volume.Has(i) && own.Is(i) == Absent {
			weighed[r] = true
		}
	}
	c := d.Runs.Column("water_temperature")
	n, first := map[string]int{}, map[string]int{}
	for r, w := range weighed {
		if !w || c.Is(r) != Absent {
			continue
		}
		file := d.Runs.Part(r).File
		if n[file] == 0 {
			first[file] = r
		}
		n[file]++
	}
	for _, part := range d.Runs.Parts {
		if k := n[part.File]; k > 0 {
			is := at(TemperatureDefault, d.Runs, first[part.File], "water_temperature")
			is.Row, is.Value = 0, ""
			is.Message = fmt.Sprintf("water_temperature is not given for %d runs whose bottles were weighed, the first in row %d: their water is taken to have 20 Cel", k, d.Runs.Row(first[part.File]))
			into.Add(is)
			delete(n, part.File)
		}
	}
}
