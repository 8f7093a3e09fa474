package check

import (
	"cmp"
	"slices"

	"sheetwash/analysis/experiment"
	"sheetwash/ingest/issue"
)

// Draft is a dataset whose cells are decoded and whose rules are not yet
// checked. Frames are never nil; a table that the dataset lacks has no rows.
type Draft struct {
	Dataset  string
	Runs     *Frame
	Plots    *Frame
	Samples  *Frame
	Cans     *Frame
	Readings []Logged
	Errors   experiment.ErrorModel
	Rigs     []experiment.Rig // profiles of simulators, as in simulator.yaml
	Broken   map[string]bool  // tables of which rows are missing because of faults in the file
	Links    Links
}

// Logged is one channel of one plot or run. Run and Plot are as found in the file.
type Logged struct {
	Run, Plot string
	Row       int64 // first row of the file that belongs to it
	Series    experiment.Series
}

// Links holds which row of one frame belongs to which row of another. -1 means
// that the reference leads nowhere.
type Links struct {
	RunOfPlot    []int32
	PlotOfSample []int32
	RunOfLogged  []int32
	PlotOfLogged []int32
	runOfSample  reference
	order        []int32 // rows of samples by plot, stream, start, end
	first        []int32 // per plot: where its samples begin in order
	logged       map[int32][]int32
}

// RunOfSample returns the row of the run of sample row i; -1 where there is none.
func (l *Links) RunOfSample(i int) int32 { return l.runOfSample.row(i) }

// Samples returns the rows of the samples of plot row p, ordered by stream,
// start, end and row.
func (l *Links) Samples(p int) []int32 { return l.order[l.first[p]:l.first[p+1]] }

// Logged returns the indices in Readings of the channels of plot row p.
func (l *Links) Logged(p int) []int32 { return l.logged[int32(p)] }

// Link finds which plot belongs to which run, and which sample and channel to
// which plot. Of duplicate keys the first row stands.
func (d *Draft) Link() {
	runs := firstRows(d.Runs.Column("run"), d.Runs.N)
	d.Links.RunOfPlot = follow(d.Plots.Column("run"), d.Plots.N, runs)
	d.Links.runOfSample = refer(d.Samples.Column("run"), runs)

	names := map[string]int32{}
	key := func(run int32, name string) int64 {
		id, ok := names[name]
		if !ok {
			id = int32(len(names))
			names[name] = id
		}
		return int64(run)<<32 | int64(id)
	}
	plots := map[int64]int32{}
	plot := d.Plots.Column("plot")
	for i, run := range d.Links.RunOfPlot {
		if run < 0 || !plot.Has(i) {
			continue
		}
		k := key(run, plot.Word(i))
		if _, twice := plots[k]; !twice {
			plots[k] = int32(i)
		}
	}
	find := func(run int32, name string) int32 {
		if run >= 0 && name != "" {
			if id, ok := names[name]; ok {
				if p, ok := plots[int64(run)<<32|int64(id)]; ok {
					return p
				}
			}
		}
		return -1
	}
	d.linkSamples(find)
	d.linkReadings(runs, find)
}

func (d *Draft) linkSamples(find func(int32, string) int32) {
	l := &d.Links
	l.PlotOfSample = make([]int32, d.Samples.N)
	plot := d.Samples.Column("plot")
	last, lastRun, lastCode := int32(-1), int32(-2), int32(-1)
	for i := range l.PlotOfSample {
		l.PlotOfSample[i] = -1
		if !plot.Has(i) {
			continue
		}
		if run, code := l.RunOfSample(i), plot.Code[i]; run != lastRun || code != lastCode {
			last, lastRun, lastCode = find(run, plot.Words[code]), run, code
		}
		l.PlotOfSample[i] = last
	}
	d.Order()
}

// Order sorts the samples of each plot by stream, start, end and row. It is
// part of Link, and is repeated after missing starts have been filled in.
func (d *Draft) Order() {
	l := &d.Links
	l.first = make([]int32, d.Plots.N+1)
	for _, p := range l.PlotOfSample {
		if p >= 0 {
			l.first[p+1]++
		}
	}
	for p := range d.Plots.N {
		l.first[p+1] += l.first[p]
	}
	l.order = make([]int32, l.first[d.Plots.N])
	next := slices.Clone(l.first)
	for i, p := range l.PlotOfSample {
		if p >= 0 {
			l.order[next[p]] = int32(i)
			next[p]++
		}
	}
	stream, start, end := d.Samples.Column("stream"), d.Samples.Column("start"), d.Samples.Column("end")
	number := func(c *Column, i int32) float64 { v, _ := c.Value(int(i)); return v }
	code := func(c *Column, i int32) int32 {
		if !c.Has(int(i)) {
			return -1
		}
		return c.Code[i]
	}
	for p := range d.Plots.N {
		slices.SortFunc(l.order[l.first[p]:l.first[p+1]], func(a, b int32) int {
			return cmp.Or(
				cmp.Compare(code(stream, a), code(stream, b)),
				cmp.Compare(number(start, a), number(start, b)),
				cmp.Compare(number(end, a), number(end, b)),
				cmp.Compare(a, b),
			)
		})
	}
}

func (d *Draft) linkReadings(runs map[string]int32, find func(int32, string) int32) {
	l := &d.Links
	l.RunOfLogged = make([]int32, len(d.Readings))
	l.PlotOfLogged = make([]int32, len(d.Readings))
	l.logged = map[int32][]int32{}
	for i, r := range d.Readings {
		run, ok := runs[r.Run]
		if !ok {
			run = -1
		}
		p := find(run, r.Plot)
		l.RunOfLogged[i], l.PlotOfLogged[i] = run, p
		if p >= 0 {
			l.logged[p] = append(l.logged[p], int32(i))
		}
	}
}

// firstRows returns the first row of each text of a column.
func firstRows(c *Column, n int) map[string]int32 {
	rows := make(map[string]int32, n)
	for i := range n {
		if !c.Has(i) {
			continue
		}
		if w := c.Word(i); w != "" {
			if _, ok := rows[w]; !ok {
				rows[w] = int32(i)
			}
		}
	}
	return rows
}

// reference is a column whose texts name rows of another frame.
type reference struct {
	column *Column
	rows   []int32 // per word of the column: the row that it names; -1: none
}

func refer(c *Column, rows map[string]int32) reference {
	r := reference{column: c}
	if c == nil {
		return r
	}
	r.rows = make([]int32, len(c.Words))
	for k, w := range c.Words {
		row, ok := rows[w]
		if !ok {
			row = -1
		}
		r.rows[k] = row
	}
	return r
}

// row returns the row that cell i names; -1 where it names none.
func (r reference) row(i int) int32 {
	if !r.column.Has(i) {
		return -1
	}
	return r.rows[r.column.Code[i]]
}

// follow returns for each row of a column the row that its text names.
func follow(c *Column, n int, rows map[string]int32) []int32 {
	out := make([]int32, n)
	r := refer(c, rows)
	for i := range out {
		out[i] = r.row(i)
	}
	return out
}

// at begins a finding at one cell; column "" means the whole row.
func at(code issue.Code, f *Frame, i int, column string) issue.Issue {
	p := f.Part(i)
	is := issue.Issue{Code: code, Severity: SeverityOf(code), File: p.File, Table: f.Table, Row: f.Row(i)}
	if column != "" {
		is.Column = p.Shown[column].Header
		if is.Column == "" {
			is.Column = column
		}
		is.Value = f.text(i, column)
	}
	return is
}
