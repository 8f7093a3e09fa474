package season

import (
	"cmp"
	"slices"
	"strings"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// eventKey names an event of all datasets.
type eventKey struct{ season, event string }

// labelKey names a treatment in a sequence of runs.
type labelKey struct{ treatment, sequence string }

// gathered is the input in cells.
type gathered struct {
	events []eventKey // ordered by event, then season
	names  []string   // of their scopes
	about  []eventAbout
	labels []string // of treatments, ordered
	// cells by label, metric of the catalogue and event; nil where there is none.
	cells     []*cell
	catalogue []result.MetricInfo // of plots and calibrations, then the analytes of the rows
}

func (d *gathered) cell(label, metric, event int) **cell {
	return &d.cells[(label*len(d.catalogue)+metric)*len(d.events)+event]
}

// gather sorts the rows that count into cells.
func gather(rows []result.PlotRow) *gathered {
	catalogue := catalogueOf(rows)
	d := &gathered{catalogue: catalogue}
	use, event, label := number(rows, catalogue)
	d.events = event.keys
	eventAt := event.order(func(a, b eventKey) int {
		return cmp.Or(cmp.Compare(a.event, b.event), cmp.Compare(a.season, b.season))
	})
	var treatment numbering[string]
	names, several := name(label.keys)
	for _, n := range names {
		treatment.of(n)
	}
	d.labels = treatment.keys
	order := treatment.order(cmp.Compare[string])
	treatmentAt := make([]int, len(names))
	for i, n := range names {
		treatmentAt[i] = order[treatment.at[n]]
	}
	d.nameEvents()
	d.cells = make([]*cell, len(d.labels)*len(catalogue)*len(d.events))
	at := func(u used) int {
		return (treatmentAt[u.label]*len(catalogue)+u.metric)*len(d.events) + eventAt[u.event]
	}
	size := make([]int, len(d.cells))
	d.about = make([]eventAbout, len(d.events))
	for _, u := range use {
		size[at(u)]++
		d.about[eventAt[u.event]].see(rows[u.row].Subject)
	}
	all := make([]*result.PlotRow, len(use)) // the rows of one cell after those of the other
	byCell := make([][]*result.PlotRow, len(d.cells))
	for i, n := range size {
		byCell[i], all = all[:0:n], all[n:]
	}
	for _, u := range use {
		i := at(u)
		byCell[i] = append(byCell[i], &rows[u.row])
	}
	for i, r := range byCell {
		if len(r) > 0 {
			noted := slices.ContainsFunc(r, func(p *result.PlotRow) bool { return p.Sequence != "" })
			d.cells[i] = newCell(r, noted && several[r[0].Treatment])
		}
	}
	return d
}

// eventAbout is what the runs of an event say of it.
type eventAbout struct {
	day             quantity.Optional // of its first run, days since 1970
	crew, simulator party
	last            *result.Subject
}

// party is the one name that all runs of an event give, of a crew or a simulator.
type party struct {
	name    string
	several bool
}

func (p *party) see(name string) {
	switch {
	case name == "":
	case p.name == "":
		p.name = name
	case p.name != name:
		p.several = true
	}
}

// known returns the name, "" where there is none or several.
func (p party) known() string {
	if p.several {
		return ""
	}
	return p.name
}

// see takes what a run says. Rows of one plot follow each other and share their subject.
func (a *eventAbout) see(s *result.Subject) {
	if s == a.last {
		return
	}
	a.last = s
	if s.Day.OK && (!a.day.OK || s.Day.V < a.day.V) {
		a.day = s.Day
	}
	a.crew.see(s.Crew)
	a.simulator.see(s.Simulator)
}

// numbering gives keys numbers in order of appearance.
type numbering[K comparable] struct {
	keys []K
	at   map[K]int
}

func (n *numbering[K]) of(k K) int {
	i, ok := n.at[k]
	if !ok {
		if n.at == nil {
			n.at = map[K]int{}
		}
		i = len(n.keys)
		n.at[k] = i
		n.keys = append(n.keys, k)
	}
	return i
}

// order sorts the keys and returns the new number of each old one; at keeps the old.
func (n *numbering[K]) order(compare func(a, b K) int) []int {
	slices.SortFunc(n.keys, compare)
	to := make([]int, len(n.keys))
	for i, k := range n.keys {
		to[n.at[k]] = i
	}
	return to
}

// used is a row that counts, with the numbers of its keys.
type used struct{ row, event, label, metric int }

// number picks the rows that count. Rows of one plot follow each other as a
// rule, so keys are looked up when they change only.
func number(rows []result.PlotRow, catalogue []result.MetricInfo) (use []used, event numbering[eventKey], label numbering[labelKey]) {
	metric := map[result.Metric]int{}
	for i, m := range catalogue {
		if m.Of == "plot" {
			metric[m.ID] = i
		}
	}
	own := len(result.Catalogue()) // what comes behind it are analytes, of one unit each
	use = make([]used, 0, len(rows))
	var last used
	var lastEvent eventKey
	var lastLabel labelKey
	for i := range rows {
		r := &rows[i]
		m, ok := metric[r.Metric]
		if !r.Headline || r.Excluded || !ok || m >= own && r.Unit != catalogue[m].SI {
			continue
		}
		if e := (eventKey{r.Season, r.Event}); e != lastEvent || len(use) == 0 {
			last.event, lastEvent = event.of(e), e
		}
		if l := (labelKey{r.Treatment, r.Sequence}); l != lastLabel || len(use) == 0 {
			last.label, lastLabel = label.of(l), l
		}
		last.row, last.metric = i, m
		use = append(use, last)
	}
	return use, event, label
}

// name returns a name for each treatment and sequence, and the treatments that
// were run in several sequences. Those are named "treatment (sequence)", since a
// dry and a wet run are different treatments. Beside runs whose sequence is not
// given, first runs go by the plain name: where later runs are noted, a run
// without a note is taken for a first one.
func name(keys []labelKey) (names []string, several map[string]bool) {
	count, unnoted := map[string]int{}, map[string]bool{}
	for _, k := range keys {
		count[k.treatment]++
		unnoted[k.treatment] = unnoted[k.treatment] || k.sequence == ""
	}
	several = map[string]bool{}
	for _, k := range keys {
		several[k.treatment] = count[k.treatment] > 1
		n := k.treatment
		if several[k.treatment] && k.sequence != "" && !(unnoted[k.treatment] && firstRun(k.sequence)) {
			n += " (" + k.sequence + ")"
		}
		names = append(names, n)
	}
	return names, several
}

// firstRun reports whether a sequence is that of the first run on a soil.
func firstRun(sequence string) bool {
	switch strings.ToLower(strings.TrimSpace(sequence)) {
	case "dry", "1", "first":
		return true
	}
	return false
}

// nameEvents gives each event its scope; one that occurs in several seasons is
// named with its season.
func (d *gathered) nameEvents() {
	seasons := map[string]int{}
	for _, e := range d.events {
		seasons[e.event]++
	}
	for _, e := range d.events {
		if seasons[e.event] > 1 && e.season != "" {
			d.names = append(d.names, "event:"+e.season+"/"+e.event)
		} else {
			d.names = append(d.names, "event:"+e.event)
		}
	}
}

// scopes returns the scopes in the order of the results table.
func (d *gathered) scopes() []scope {
	var out []scope
	bySeason := map[string][]int{}
	var seasons []string
	var all []int
	for i, e := range d.events {
		out = append(out, d.scope(d.names[i], []int{i}, true))
		all = append(all, i)
		if e.season == "" {
			continue
		}
		if bySeason[e.season] == nil {
			seasons = append(seasons, e.season)
		}
		bySeason[e.season] = append(bySeason[e.season], i)
	}
	slices.Sort(seasons)
	for _, s := range seasons {
		out = append(out, d.scope("season:"+s, bySeason[s], false))
	}
	if len(all) > 0 {
		out = append(out, d.scope("all", all, false))
	}
	return out
}

func (d *gathered) scope(name string, events []int, single bool) scope {
	s := scope{name: name, events: events, single: single, catalogue: d.catalogue}
	for _, e := range events {
		s.about = append(s.about, d.about[e])
	}
	most := len(d.labels) * len(d.catalogue)
	s.series = make([]series, 0, most)
	cells, at := make([]*cell, 0, most*len(events)), make([]int, 0, most*len(events)) // those of one series after the other's
	for label := range d.labels {
		for metric := range d.catalogue {
			from := len(cells)
			for i, e := range events {
				if c := *d.cell(label, metric, e); c != nil {
					cells, at = append(cells, c), append(at, i)
				}
			}
			if to := len(cells); to > from {
				s.series = append(s.series, series{label: d.labels[label], info: &d.catalogue[metric], cells: cells[from:to:to], at: at[from:to:to]})
			}
		}
	}
	return s
}
