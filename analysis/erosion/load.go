package erosion

import (
	"math"
	"sort"

	"sheetwash/analysis/quantity"
)

// piece is a stretch of flow within one pool, or within none.
type piece struct {
	flow       int // index in Input.Flow
	pool       int // index in pools, -1: none
	ml, u      float64
	collected  bool
	conc       float64
	uConc      float64 // of an interpolated one
	start, end float64 // cumulative volume, mL
}

// sameMin is the difference below which two times are one.
const sameMin = 1e-6

// cut divides the flow at the ends of pools, each interval at its mean rate.
func (l *load) cut() {
	l.pieces = make([]piece, 0, len(l.in.Flow)+2*len(l.pools))
	lo := 0
	for i := range l.in.Flow {
		f := &l.in.Flow[i]
		l.lower = l.lower || f.LowerBound
		for lo < len(l.pools) && l.pools[lo].end <= f.StartMin+sameMin {
			lo++
		}
		from := f.StartMin
		for k := lo; k < len(l.pools) && l.pools[k].start < f.EndMin-sameMin; k++ {
			p := &l.pools[k]
			if p.end <= from+sameMin {
				continue
			}
			if p.start > from+sameMin {
				l.add(i, -1, from, p.start)
				from = p.start
			}
			to := min(p.end, f.EndMin)
			l.add(i, k, from, to)
			from = to
		}
		if f.EndMin > from+sameMin {
			l.add(i, -1, from, f.EndMin)
		}
	}
}

func (l *load) add(flow, pool int, from, to float64) {
	f := &l.in.Flow[flow]
	part := (to - from) / (f.EndMin - f.StartMin)
	p := piece{flow: flow, pool: pool, ml: f.VolumeML * part, u: f.UVolumeML * part, collected: f.Collected, start: l.totalML}
	l.totalML += p.ml
	p.end = l.totalML
	l.pieces = append(l.pieces, p)
}

// concentrations gives each pool its concentration.
//
//	C = 1000 m / V_caught
//
// Units: m in g, V in mL, C in g/L.
func (l *load) concentrations() {
	first := make([]float64, len(l.pools))
	for i := range l.pieces {
		q := &l.pieces[i]
		if q.pool < 0 || !q.collected {
			continue
		}
		p := &l.pools[q.pool]
		if p.caughtML == 0 {
			first[q.pool] = q.start
		}
		if q.ml > 0 {
			p.flows++
		}
		p.caughtML += q.ml
		p.uCaughtML = math.Hypot(p.uCaughtML, q.u)
		p.node = (first[q.pool] + q.end) / 2
	}
	for k := range l.pools {
		p := &l.pools[k]
		switch {
		case !(p.caughtML > 0):
			l.looseMass(p)
		case p.stated.OK:
			p.conc = p.stated.V
			p.uConc = l.uStated(p)
			p.massG = p.conc * p.caughtML / 1000
		case l.in.Metered && p.bottleML > 0:
			l.deductDissolved(p, p.bottleML)
			p.conc = 1000 * p.massG / p.bottleML
			u := math.Hypot(l.in.Errors.VolumeRel*p.bottleML, l.in.Errors.VolumeML)
			p.uConc = math.Hypot(1000*p.uG/p.bottleML, p.conc*u/p.bottleML)
		default:
			l.deductDissolved(p, p.caughtML)
			p.conc = 1000 * p.massG / p.caughtML
			p.uConc = 1000 * p.uG / p.caughtML
		}
	}
}

// uStated is the standard uncertainty of a concentration that was not weighed, g/L, as
// far as it is independent of other bottles: the scatter of the rating for one
// from turbidity; what a dry mass of the bottle would have for a stated one; nothing of its own
// where all share an error.
func (l *load) uStated(p *pool) float64 {
	switch {
	case p.rated:
		return p.conc * l.in.Rating.SD
	case l.commonRel > 0:
		return 0
	}
	return 1000 * l.in.Errors.SedimentG / p.caughtML
}

// looseMass counts the mass of a pool in whose interval no water was caught: the
// mass is there, a concentration is not. More than its error says that the
// water was not read (flag sediment_without_water).
func (l *load) looseMass(p *pool) {
	if p.stated.OK {
		return
	}
	l.loose += p.massG
	l.looseSq += p.uG * p.uG
	if p.massG > 2*p.uG {
		l.flags.Add("sediment_without_water")
	}
}

// spread gives each piece of flow its concentration, and adds up the load. It
// reports false where no pool has a concentration.
func (l *load) spread() bool {
	nodes := make([]int, 0, len(l.pools))
	for k := range l.pools {
		if l.pools[k].caughtML > 0 {
			nodes = append(nodes, k)
		}
	}
	if len(nodes) == 0 {
		return len(l.pools) > 0 && l.totalML == 0
	}
	sort.SliceStable(nodes, func(a, b int) bool { return l.pools[nodes[a]].node < l.pools[nodes[b]].node })
	var mean, ml float64
	for _, k := range nodes {
		mean += l.pools[k].conc * l.pools[k].caughtML
		ml += l.pools[k].caughtML
	}
	mean /= ml
	for i := range l.pieces {
		q := &l.pieces[i]
		if q.pool >= 0 && l.pools[q.pool].caughtML > 0 {
			l.known(q)
			continue
		}
		if q.ml != 0 {
			l.interpolate(q, nodes, mean)
		}
	}
	return true
}

// known gives a piece the concentration of its pool. What ran off in the pool's
// interval and was not caught counts as interpolated.
func (l *load) known(q *piece) {
	p := &l.pools[q.pool]
	q.conc = p.conc
	p.weightML += q.ml
	l.massG += q.conc * q.ml / 1000
	if !q.collected {
		l.interpG += q.conc * q.ml / 1000
		l.square(q.conc * q.u / 1000)
	} else if p.stated.OK || l.in.Metered && p.bottleML > 0 {
		l.square(q.conc * q.u / 1000)
	}
}

// interpolate gives a piece the concentration between the pools before and after
// it on the axis of volume. The truth is taken to lie anywhere between the two;
// beyond the first or last pool the difference from the mean is the standard
// uncertainty.
func (l *load) interpolate(q *piece, nodes []int, mean float64) {
	at := (q.start + q.end) / 2
	j := sort.Search(len(nodes), func(i int) bool { return l.pools[nodes[i]].node >= at })
	var u float64
	switch {
	case j == 0, j == len(nodes):
		p := &l.pools[nodes[min(j, len(nodes)-1)]]
		q.conc, u = p.conc, math.Abs(p.conc-mean)
		p.weightML += q.ml
	default:
		a, b := &l.pools[nodes[j-1]], &l.pools[nodes[j]]
		part := (at - a.node) / (b.node - a.node)
		q.conc, u = a.conc+part*(b.conc-a.conc), math.Abs(b.conc-a.conc)/math.Sqrt(12)
		a.weightML += (1 - part) * q.ml
		b.weightML += part * q.ml
	}
	l.massG += q.conc * q.ml / 1000
	l.interpG += q.conc * q.ml / 1000
	q.uConc = u
	l.square(u * q.ml / 1000)
	l.square(q.conc * q.u / 1000)
}

func (l *load) square(u float64) { l.squares += u * u }

// byFlow returns the concentration of each interval of the flow.
func (l *load) byFlow() []quantity.Optional {
	out := make([]quantity.Optional, len(l.in.Flow))
	var mass, ml float64
	for i := range l.pieces {
		q := &l.pieces[i]
		mass, ml = mass+q.conc*q.ml, ml+q.ml
		if i+1 == len(l.pieces) || l.pieces[i+1].flow != q.flow {
			if ml > 0 {
				out[q.flow] = quantity.Some(mass / ml)
			}
			mass, ml = 0, 0
		}
	}
	return out
}
