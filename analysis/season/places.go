package season

import (
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// Place is where a plot and run belong in the statistics of a season.
type Place struct {
	Dataset, Run, Plot string
	Event, Season      string            // names of scopes; Season "" where none is named
	Treatment          string            // with its sequence of runs, where they are told apart
	Soil               string            // body of soil, "" where none is named
	Crew, Simulator    string            // of the event, "" where none or several are named
	Day                quantity.Optional // of the event's first run, days since 1970
}

// Places lists the plots that count, in the order of their rows.
func Places(rows []result.PlotRow) []Place {
	catalogue := catalogueOf(rows)
	use, event, label := number(rows, catalogue)
	names, _ := name(label.keys)
	d := gathered{events: event.keys}
	d.nameEvents()
	about := make([]eventAbout, len(event.keys))
	for _, u := range use {
		about[u.event].see(rows[u.row].Subject)
	}
	type key struct{ dataset, run, plot string }
	seen := map[key]bool{}
	var out []Place
	for _, u := range use {
		r := &rows[u.row]
		k := key{r.Dataset, r.Run, r.Plot}
		if seen[k] {
			continue
		}
		seen[k] = true
		p := Place{Dataset: r.Dataset, Run: r.Run, Plot: r.Plot, Event: d.names[u.event], Treatment: names[u.label], Soil: r.ExperimentalUnit}
		a := &about[u.event]
		p.Crew, p.Simulator, p.Day = a.crew.known(), a.simulator.known(), a.day
		if r.Season != "" {
			p.Season = "season:" + r.Season
		}
		out = append(out, p)
	}
	return out
}

// MethodsApart lists the metrics whose methods define different quantities, so
// that their values never stand in one estimate, in the order of the catalogue.
func MethodsApart() []result.Metric {
	var out []result.Metric
	for _, m := range result.Catalogue() {
		if definesMethod[m.ID] {
			out = append(out, m.ID)
		}
	}
	return out
}

// EndsWithRain lists the metrics whose values are bounds by design where a plot
// does not run off before the rain ends, in the order of the catalogue.
func EndsWithRain() []result.Metric {
	var out []result.Metric
	for _, m := range result.Catalogue() {
		if endsWithRain(m) {
			out = append(out, m.ID)
		}
	}
	return out
}
