package readings

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/ingest/issue"
	"sheetwash/ingest/mapping"
	"sheetwash/ingest/table"
)

// DefaultBinMin is the width of a bin unless set otherwise, in minutes: a
// quarter of the 60 s over which rates are taken.
const DefaultBinMin = 0.25

// Defaults of the bounds on memory. A bin takes 40 bytes.
const (
	DefaultMaxBins   = 1_500_000
	DefaultMaxSeries = 200_000
)

// Options says how to reduce. Unit must be set.
type Options struct {
	Workers   int     // at least 1
	BinMin    float64 // width of a bin, min; 0: DefaultBinMin
	MaxBins   int     // bins in all, beyond which every bin is made twice as wide; 0: DefaultMaxBins
	MaxSeries int     // 0: DefaultMaxSeries

	// Unit returns how numbers of a channel in a unit, as written, become
	// canonical ones, and whether they are volume per time (mL/min) rather than
	// depth per time. An empty unit asks for the channel's own. It is called from
	// several goroutines.
	Unit func(channel experiment.Channel, unit string) (conv quantity.Conversion, volumeRate, ok bool)
	// Start returns the start of a run's rain, for clock times and stamps. It is
	// called from several goroutines; nil: no start is known.
	Start func(run string) (start time.Time, ok bool)
}

// Keyed is one series and what it belongs to.
type Keyed struct {
	Run, Plot string // Plot is "" for a channel of the run
	Row       int64  // first row of the file that belongs to it
	Series    experiment.Series
}

// Reduced is what a table of readings comes to.
type Reduced struct {
	Series []Keyed // by run, plot and channel
	Rows   int64   // rows read
	Empty  int64   // cells of values that were empty or a missing word
	Issues issue.List
}

// ErrBinding says that the bindings hold no run, time or value.
var ErrBinding = errors.New("the readings are not bound")

// Reduce reads a bound table of readings. What is wrong with its rows is in
// Issues, without what opening the table found; the error is for I/O, ctx and
// bindings that lack a run, a time or a value, which mapping reports itself.
func Reduce(ctx context.Context, bound *mapping.Bound, opt Options) (*Reduced, error) {
	p, err := newPlan(bound, opt)
	if err != nil {
		return nil, err
	}
	st := newStore(p.opt.BinMin, p.opt.MaxBins, p.opt.MaxSeries)
	out := &Reduced{}
	total := partials{}
	var mu sync.Mutex
	var idle []*worker
	work := func(b *table.Batch) any {
		mu.Lock()
		var w *worker
		if n := len(idle); n > 0 {
			w, idle = idle[n-1], idle[:n-1]
		}
		mu.Unlock()
		if w == nil {
			w = newWorker(p)
		}
		res := w.reduce(b)
		mu.Lock()
		idle = append(idle, w)
		mu.Unlock()
		return res
	}
	commit := func(x any) {
		res := x.(*partials)
		out.Rows += res.rows
		out.Empty += res.empty
		p.commit(st, res, out)
		total.note(res)
		p.give(res)
	}
	if err := bound.Source.Scan(ctx, table.ScanOptions{Workers: p.opt.Workers, Want: bound.Want()}, work, commit); err != nil {
		return nil, err
	}
	p.conclude(st, &total, out)
	return out, nil
}

// note keeps the sums that become notes at the end.
func (p *partials) note(res *partials) {
	if p.before == 0 {
		p.beforeRow = res.beforeRow
	}
	p.before += res.before
	p.defaults |= res.defaults
}

// commit merges the partials of one batch, in their order.
func (p *plan) commit(st *store, res *partials, out *Reduced) {
	st.joined = st.joined[:0]
	for i := range res.series {
		s := &res.series[i]
		g := st.find(s.local)
		st.joined = append(st.joined, g)
		if g == nil {
			if st.refused == 0 {
				out.Issues.Add(p.issue(CodeTooManySeries, issue.Error, s.row, "", "",
					fmt.Sprintf("more than %d series of readings; are run and plot bound to the right columns?", st.maxSeries)))
			}
			st.refused += s.n
			continue
		}
		if g.join(s) {
			p.duplicate(res, s.row, s.openMin)
		}
	}
	for i := range res.bins {
		if g := st.joined[res.bins[i].series]; g != nil {
			st.merge(g, res.bins[i].bin)
		}
	}
	out.Issues.AddAll(&res.issues)
}

// conclude puts the series in order and states what was assumed.
func (p *plan) conclude(st *store, total *partials, out *Reduced) {
	width := st.binMin()
	st.free = nil
	for _, g := range st.series {
		bins := g.bins.flat(make([]experiment.Bin, 0, g.bins.n))
		g.bins = binSet{}
		out.Series = append(out.Series, Keyed{Run: g.run, Plot: g.plot, Row: g.row, Series: experiment.Series{
			Channel: g.channel, VolumeRate: g.volumeRate, BinMin: width, Bins: bins, N: g.n,
			FirstMin: g.firstMin, LastMin: g.lastMin, First: g.first, Last: g.last,
			Place: experiment.Place{File: p.file, Row: g.firstRow},
		}})
	}
	slices.SortFunc(out.Series, compareKeyed)
	for i := 1; i < len(out.Series); i++ {
		a, b := &out.Series[i-1], &out.Series[i]
		if a.Run == b.Run && a.Plot == b.Plot && a.Series.Channel == b.Series.Channel {
			out.Issues.Add(p.issue(CodeMixedRate, issue.Error, max(a.Row, b.Row), p.header(p.unit), "",
				fmt.Sprintf("%s of run %q plot %q is given as depth per time and as volume per time; use one", a.Series.Channel, a.Run, a.Plot)))
		}
	}
	if st.level > 0 {
		out.Issues.Add(p.issue(CodeCoarsened, issue.Warning, 0, "", "",
			fmt.Sprintf("more than %d time bins; readings are kept in bins of %g min instead of %g min, and rates are means over whole bins", st.maxBins, width, st.width)))
	}
	if total.before > 0 {
		out.Issues.Add(p.issue(CodeBeforeRain, issue.Note, total.beforeRow, p.time.binding.Header, "",
			fmt.Sprintf("%d readings lie before the start of rain, the first in this row; they are kept", total.before)))
	}
	for _, c := range experiment.Channels() {
		if total.defaults&(1<<c) != 0 {
			out.Issues.Add(p.issue(CodeDefaultUnit, issue.Note, 0, p.header(p.unit), "",
				fmt.Sprintf("readings of %s name no unit; the channel's own is taken", c)))
		}
	}
}

func compareKeyed(a, b Keyed) int {
	if c := strings.Compare(a.Run, b.Run); c != 0 {
		return c
	}
	if c := strings.Compare(a.Plot, b.Plot); c != 0 {
		return c
	}
	if a.Series.Channel != b.Series.Channel {
		return int(a.Series.Channel) - int(b.Series.Channel)
	}
	if a.Series.VolumeRate == b.Series.VolumeRate {
		return 0
	}
	if b.Series.VolumeRate {
		return -1
	}
	return 1
}
