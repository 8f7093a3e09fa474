package season

import (
	"slices"

	"sheetwash/analysis/inference"
)

// modelData are the cells of a mixed model: a column for each treatment that is in
// it and, where parties are compared, for each of them but the first.
type modelData struct {
	cells   []inference.EventCell
	of      []*cell // they are of
	at      []int   // events of the scope they are in
	within  inference.Scatter
	given   float64  // variance that means of cells with bounds suppose
	in      []int    // treatments, by their places among the sides
	parties []string // the first has no column
	columns int
	events  int
	logs    bool
	leftOut bool // a treatment of which an event is known as a bound only, or is not positive
	again   bool // a treatment on soil that another one or event had before
}

// column returns that of a side, -1 for none.
func (d *modelData) column(side int) int { return slices.Index(d.in, side) }

// party returns the column of a party, -1 for the first, -2 for one without events.
func (d *modelData) party(name string) int {
	switch i := slices.Index(d.parties, name); {
	case i < 0:
		return -2
	case i == 0:
		return -1
	default:
		return len(d.in) + i - 1
	}
}

// model gathers the cells of all treatments that the model can take: those with a
// mean in each of their events, positive where logarithms are taken. Plots of
// cells with bounds enter by the mean of their likelihood given the scatter of the others. party names what an event
// belongs to, "" for events that are left out; nil for all.
func (m *family) model(party func(event int) string) modelData {
	d := modelData{logs: logarithmic(m.info)}
	usable := func(s side) []int {
		var at []int
		for e, c := range s.cells {
			if usableCell(c) && (party == nil || party(e) != "") {
				at = append(at, e)
			}
		}
		return at
	}
	var all []*cell
	for _, s := range m.sides {
		for _, e := range usable(s) {
			if !d.logs || s.cells[e].positive() {
				all = append(all, s.cells[e])
			}
		}
	}
	var sc eventEffects
	sc.scatter(all, nil, d.logs)
	d.given = sc.variance
	number := map[int]int{} // of the events
	soils := map[string]bool{}
	for i, s := range m.sides {
		at := usable(s)
		if len(at) == 0 {
			continue
		}
		switch {
		case !m.takes(s, at, &d, sc.variance):
			d.leftOut = true
			continue
		case onSoil(s, at, soils):
			d.again = true
			continue
		}
		d.in = append(d.in, i)
		for _, e := range at {
			number[e] = 0
		}
	}
	order := make([]int, 0, len(number))
	for e := range number {
		order = append(order, e)
	}
	slices.Sort(order)
	for k, e := range order {
		number[e] = k
		if party != nil && !slices.Contains(d.parties, party(e)) {
			d.parties = append(d.parties, party(e))
		}
	}
	d.events, d.columns = len(order), len(d.in)+max(0, len(d.parties)-1)
	for k, i := range d.in {
		for _, e := range usable(m.sides[i]) {
			c := m.sides[i].cells[e]
			x := make([]float64, d.columns)
			x[k] = 1
			if party != nil {
				if p := d.party(party(e)); p >= 0 {
					x[p] = 1
				}
			}
			d.cells = append(d.cells, inference.EventCell{Event: number[e], Mean: c.meanGiven(d.logs, sc.variance).Low, N: len(c.units), X: x})
			d.of, d.at = append(d.of, c), append(d.at, e)
		}
	}
	used := d.of
	var within eventEffects
	within.scatter(used, nil, d.logs)
	d.within = inference.Scatter{SS: within.variance * within.df, DF: within.df}
	return d
}

// onSoil reports whether a treatment stands on a body of soil that was used before,
// and else notes its own.
func onSoil(s side, at []int, used map[string]bool) bool {
	own := map[string]bool{}
	for _, e := range at {
		for _, u := range s.cells[e].units {
			if u.soil != "" && (used[u.soil] || own[u.soil]) {
				return true
			}
			if u.soil != "" {
				own[u.soil] = true
			}
		}
	}
	for soil := range own {
		used[soil] = true
	}
	return false
}

// takes reports whether every event of a treatment has a mean.
func (m *family) takes(s side, at []int, d *modelData, variance float64) bool {
	for _, e := range at {
		c := s.cells[e]
		if d.logs && !c.positive() || !c.meanGiven(d.logs, variance).Observed() {
			return false
		}
	}
	return true
}
