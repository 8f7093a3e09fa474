package readings

import (
	"cmp"
	"math/bits"
	"slices"

	"sheetwash/analysis/experiment"
)

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
	spare     [32][][]experiment.Bin // outgrown room, by the logarithm of its size
	refused   int64                  // readings of series that were too many
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
	bins              []experiment.Bin
	sorted            bool    // by index; index is unused
	index             []int32 // open addressing by bin index: position + 1
	last0             int32   // bin used last
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
		s.series = append(s.series, &series{seriesKey: key, sorted: true})
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

// merge adds a partial bin to a series.
func (s *store) merge(g *series, p experiment.Bin) {
	wide := p.Index >> s.level
	shifted(&p, float64(p.Index-wide<<s.level)*s.width)
	p.Index = wide
	into := s.at(g, wide)
	into.N += p.N
	into.SumT += p.SumT
	into.SumV += p.SumV
	into.SumTT += p.SumTT
	into.SumTV += p.SumTV
	for s.bins > s.maxBins && s.level < maxLevel {
		s.coarsen()
	}
}

// shifted moves the origin of a bin's times back by d:
//
//	sum (t+d)v = sum tv + d sum v,  sum (t+d)^2 = sum t^2 + 2 d sum t + n d^2
func shifted(b *experiment.Bin, d float64) {
	if d == 0 {
		return
	}
	n := float64(b.N)
	b.SumTV += d * b.SumV
	b.SumTT += 2*d*b.SumT + n*d*d
	b.SumT += n * d
}

// at returns the bin of that index, new and empty where there is none.
func (s *store) at(g *series, index int32) *experiment.Bin {
	n := len(g.bins)
	switch {
	case n > 0 && g.bins[g.last0].Index == index:
		return &g.bins[g.last0]
	case g.sorted && (n == 0 || index > g.bins[n-1].Index):
		return s.append(g, index)
	case g.sorted:
		at, ok := slices.BinarySearchFunc(g.bins, index, func(b experiment.Bin, i int32) int { return cmp.Compare(b.Index, i) })
		if ok {
			g.last0 = int32(at)
			return &g.bins[at]
		}
		g.sorted = false
		g.rehash()
	}
	if at := g.look(index); at >= 0 {
		g.last0 = at
		return &g.bins[at]
	}
	b := s.append(g, index)
	if 2*len(g.bins) > len(g.index) {
		g.rehash()
	} else {
		g.enter(index, int32(len(g.bins)))
	}
	return b
}

// append adds an empty bin. Room that is outgrown is kept for other series.
func (s *store) append(g *series, index int32) *experiment.Bin {
	if len(g.bins) == cap(g.bins) {
		room := max(4, 2*cap(g.bins))
		class := bits.Len(uint(room))
		var grown []experiment.Bin
		if spare := s.spare[class]; len(spare) > 0 {
			grown = spare[len(spare)-1]
			s.spare[class] = spare[:len(spare)-1]
		} else {
			grown = make([]experiment.Bin, 0, room)
		}
		grown = append(grown, g.bins...)
		if cap(g.bins) > 0 {
			old := bits.Len(uint(cap(g.bins)))
			s.spare[old] = append(s.spare[old], g.bins[:0])
		}
		g.bins = grown
	}
	s.bins++
	g.last0 = int32(len(g.bins))
	g.bins = append(g.bins, experiment.Bin{Index: index})
	return &g.bins[g.last0]
}

func (g *series) slot(index int32) int {
	return int(uint64(uint32(index)) * scatter >> (64 - bits.Len(uint(len(g.index)-1))))
}

func (g *series) look(index int32) int32 {
	for i := g.slot(index); ; i = (i + 1) & (len(g.index) - 1) {
		p := g.index[i]
		if p == 0 {
			return -1
		}
		if g.bins[p-1].Index == index {
			return p - 1
		}
	}
}

func (g *series) enter(index, position int32) {
	i := g.slot(index)
	for g.index[i] != 0 {
		i = (i + 1) & (len(g.index) - 1)
	}
	g.index[i] = position
}

func (g *series) rehash() {
	size := 16
	for size < 4*len(g.bins) {
		size *= 2
	}
	g.index = make([]int32, size)
	for i, b := range g.bins {
		g.enter(b.Index, int32(i+1))
	}
}

// sort brings the bins into the order of their index.
func (g *series) sort() {
	if !g.sorted {
		slices.SortFunc(g.bins, func(a, b experiment.Bin) int { return cmp.Compare(a.Index, b.Index) })
		g.sorted, g.index = true, nil
	}
}

// coarsen doubles the width of all bins.
func (s *store) coarsen() {
	width := s.width * float64(int64(1)<<s.level)
	s.level++
	s.bins = 0
	for _, g := range s.series {
		g.sort()
		w := 0
		for _, b := range g.bins {
			odd := b.Index & 1
			b.Index >>= 1
			if odd == 1 {
				shifted(&b, width)
			}
			if w > 0 && g.bins[w-1].Index == b.Index {
				into := &g.bins[w-1]
				into.N += b.N
				into.SumT += b.SumT
				into.SumV += b.SumV
				into.SumTT += b.SumTT
				into.SumTV += b.SumTV
				continue
			}
			g.bins[w] = b
			w++
		}
		g.bins = g.bins[:w]
		g.last0 = 0
		s.bins += w
	}
}
