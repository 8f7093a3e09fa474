package readings

import "sheetwash/analysis/experiment"

// maxLevel bounds how often bins are doubled.
const maxLevel = 20

// store holds all series. It is used by one goroutine at a time, in the order
// of the file.
type store struct {
	width     float64 // of the narrowest bins, min
	maxBins   int
	maxSeries int
	level     int // bins are 2^level of the narrowest wide
	bins      int // in all
	series    []*series
	byKey     map[seriesKey]int32
	free      []*page
	refused   int64     // readings of series that were too many
	joined    []*series // of the batch that is being merged
}

type seriesKey struct {
	run, plot  string
	channel    experiment.Channel
	volumeRate bool
}

// series is one series over the whole file.
type series struct {
	seriesKey
	n                 int64
	firstMin, lastMin float64
	first, last       float64
	firstRow, row     int64
	closeMin          float64 // time of the last row so far
	bins              binSet
}

func newStore(width float64, maxBins, maxSeries int) *store {
	return &store{width: width, maxBins: maxBins, maxSeries: maxSeries, byKey: map[seriesKey]int32{}}
}

// find returns the series of a local one, nil where there are too many.
func (s *store) find(l *local) *series {
	if l.global >= 0 {
		return s.series[l.global]
	}
	key := seriesKey{l.run, l.plot, l.channel, l.volumeRate}
	n, ok := s.byKey[key]
	if !ok {
		if len(s.series) >= s.maxSeries {
			return nil
		}
		n = int32(len(s.series))
		s.byKey[key] = n
		s.series = append(s.series, &series{seriesKey: key, bins: binSet{sorted: true}})
	}
	l.global = n
	return s.series[n]
}

// join adds what a batch says of a series. It reports whether the batch goes on
// at the very time at which the batches before ended.
func (g *series) join(p *stretch) (repeats bool) {
	if g.n == 0 {
		g.firstMin, g.first, g.firstRow, g.row = p.firstMin, p.first, p.firstRow, p.row
		g.lastMin, g.last = p.lastMin, p.last
	} else {
		repeats = g.closeMin == p.openMin
		if p.firstMin < g.firstMin {
			g.firstMin, g.first, g.firstRow = p.firstMin, p.first, p.firstRow
		}
		if p.lastMin >= g.lastMin {
			g.lastMin, g.last = p.lastMin, p.last
		}
	}
	g.n += p.n
	g.closeMin = p.closeMin
	return repeats
}

// merge adds a partial bin, one of the narrowest, to a series.
func (s *store) merge(g *series, p experiment.Bin) {
	wide := p.Index >> s.level
	shift(&p, float64(p.Index-wide<<s.level)*s.width)
	if at := g.bins.find(wide); at >= 0 {
		g.bins.latest = at
		sum(g.bins.at(at), &p)
		return
	}
	sum(g.bins.add(wide, s.take), &p)
	s.bins++
	for s.bins > s.maxBins && s.level < maxLevel {
		s.coarsen()
	}
}

// coarsen doubles the width of all bins.
func (s *store) coarsen() {
	width := s.binMin()
	s.level++
	s.bins = 0
	var scratch []experiment.Bin
	for _, g := range s.series {
		scratch = g.bins.halve(width, scratch, s.give)
		s.bins += g.bins.n
	}
}

// binMin returns the width of the bins as they are, min.
func (s *store) binMin() float64 { return s.width * float64(int64(1)<<s.level) }

func (s *store) take() *page {
	if n := len(s.free); n > 0 {
		p := s.free[n-1]
		s.free = s.free[:n-1]
		return p
	}
	return new(page)
}

func (s *store) give(p *page) { s.free = append(s.free, p) }
