package readings

import (
	"cmp"
	"math/bits"
	"slices"

	"sheetwash/analysis/experiment"
)

// pageBins is how many bins a page holds; a power of two.
const pageBins = 8

// page is the room that series take and give back. Pages that coarsening frees
// go to other series, so that memory follows the number of bins closely.
type page [pageBins]experiment.Bin

// binSet is the bins of one series, in the order in which they were met.
type binSet struct {
	pages  []*page
	n      int
	latest int     // bin used last
	sorted bool    // by index so far; the hash is then unused
	hash   []int32 // open addressing by bin index: position + 1
}

func (s *binSet) at(i int) *experiment.Bin { return &s.pages[i/pageBins][i%pageBins] }

// find returns the position of a bin by its index, or -1.
func (s *binSet) find(index int32) int {
	switch {
	case s.n == 0:
		return -1
	case s.at(s.latest).Index == index:
		return s.latest
	case s.sorted && index > s.at(s.n-1).Index:
		return -1
	case s.sorted:
		lo, hi := 0, s.n
		for lo < hi {
			if mid := (lo + hi) / 2; s.at(mid).Index < index {
				lo = mid + 1
			} else {
				hi = mid
			}
		}
		if s.at(lo).Index == index {
			return lo
		}
		return -1
	}
	for i := s.slot(index); ; i = (i + 1) & (len(s.hash) - 1) {
		p := int(s.hash[i])
		if p == 0 {
			return -1
		}
		if s.at(p-1).Index == index {
			return p - 1
		}
	}
}

// add adds an empty bin that is not there yet. take returns a free page.
func (s *binSet) add(index int32, take func() *page) *experiment.Bin {
	if s.sorted && s.n > 0 && index < s.at(s.n-1).Index {
		s.sorted = false
		s.rehash()
	}
	if s.n == len(s.pages)*pageBins {
		s.pages = append(s.pages, take())
	}
	s.latest = s.n
	s.n++
	b := s.at(s.latest)
	*b = experiment.Bin{Index: index}
	if !s.sorted {
		if 2*s.n > len(s.hash) {
			s.rehash()
		} else {
			s.enter(index, s.n)
		}
	}
	return b
}

func (s *binSet) slot(index int32) int {
	return int(uint64(uint32(index)) * scatter >> (64 - bits.Len(uint(len(s.hash)-1))))
}

func (s *binSet) enter(index int32, position int) {
	i := s.slot(index)
	for s.hash[i] != 0 {
		i = (i + 1) & (len(s.hash) - 1)
	}
	s.hash[i] = int32(position)
}

func (s *binSet) rehash() {
	size := 16
	for size < 4*s.n {
		size *= 2
	}
	s.hash = make([]int32, size)
	for i := range s.n {
		s.enter(s.at(i).Index, i+1)
	}
}

// flat appends the bins to dst in the order of their index.
func (s *binSet) flat(dst []experiment.Bin) []experiment.Bin {
	from := len(dst)
	for i := 0; i < s.n; i += pageBins {
		dst = append(dst, s.pages[i/pageBins][:min(pageBins, s.n-i)]...)
	}
	if !s.sorted {
		slices.SortFunc(dst[from:], func(a, b experiment.Bin) int { return cmp.Compare(a.Index, b.Index) })
	}
	return dst
}

// halve makes the bins twice as wide, width being what they are now, and hands
// pages that are left to give. scratch is room to work in; it is returned.
func (s *binSet) halve(width float64, scratch []experiment.Bin, give func(*page)) []experiment.Bin {
	scratch = s.flat(scratch[:0])
	s.n, s.latest, s.sorted, s.hash = 0, 0, true, nil
	for _, b := range scratch {
		odd := b.Index & 1
		b.Index >>= 1
		if odd == 1 {
			shift(&b, width)
		}
		if s.n > 0 && s.at(s.n-1).Index == b.Index {
			sum(s.at(s.n-1), &b)
			continue
		}
		*s.at(s.n) = b
		s.n++
	}
	need := (s.n + pageBins - 1) / pageBins
	for _, p := range s.pages[need:] {
		give(p)
	}
	clear(s.pages[need:])
	s.pages = s.pages[:need]
	return scratch
}

// shift moves the origin of a bin's times back by d:
//
//	sum (t+d)v = sum tv + d sum v,  sum (t+d)^2 = sum t^2 + 2 d sum t + n d^2
func shift(b *experiment.Bin, d float64) {
	if d == 0 {
		return
	}
	n := float64(b.N)
	b.SumTV += d * b.SumV
	b.SumTT += 2*d*b.SumT + n*d*d
	b.SumT += n * d
}

// sum adds the sums of b to those of into; both have one origin.
func sum(into, b *experiment.Bin) {
	into.N += b.N
	into.SumT += b.SumT
	into.SumV += b.SumV
	into.SumTT += b.SumTT
	into.SumTV += b.SumTV
}
