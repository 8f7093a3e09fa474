package erosion

import (
	"math"
	"slices"
	"sort"

	"sheetwash/analysis/derivation"
)

// pieceConcentration is the concentration of a piece of flow: that of its pool,
// or of the pools before and after it.
func (d *Derivations) pieceConcentration(i int) derivation.Node {
	l := &d.l
	q := &l.pieces[i]
	if q.pool >= 0 && l.pools[q.pool].caughtML > 0 {
		return d.conc("concentration", q.pool)
	}
	var nodes []int
	for k := range l.pools {
		if l.pools[k].caughtML > 0 {
			nodes = append(nodes, k)
		}
	}
	sort.SliceStable(nodes, func(a, b int) bool { return l.pools[nodes[a]].node < l.pools[nodes[b]].node })
	if len(nodes) == 0 {
		return derivation.Setting("concentration", q.conc, "g/L", "no sediment was weighed where water was caught")
	}
	at := (q.start + q.end) / 2
	j := sort.Search(len(nodes), func(n int) bool { return l.pools[nodes[n]].node >= at })
	if j == 0 || j == len(nodes) {
		return d.conc("concentration", nodes[min(j, len(nodes)-1)]).Noting("that of the nearest sediment: none was weighed beyond it")
	}
	a, b := &l.pools[nodes[j-1]], &l.pools[nodes[j]]
	return derivation.Formula("concentration", q.conc, "g/L", "before + (at - at_before) / (at_after - at_before) * (after - before)",
		d.conc("before", nodes[j-1]), d.conc("after", nodes[j]),
		d.ran("at", at, "this water", i, i),
		d.ran("at_before", a.node, "the sediment before", d.firstCaught(nodes[j-1]), d.lastCaught(nodes[j-1])),
		d.ran("at_after", b.node, "the sediment after", d.firstCaught(nodes[j]), d.lastCaught(nodes[j]))).
		Noting("not weighed: it runs straight, over the volume, between the sediment before and after")
}

// ran is the water that had run off by the middle of a stretch of pieces.
func (d *Derivations) ran(name string, ml float64, of string, first, last int) derivation.Node {
	before, own := derivation.ListOf("before", "mL"), derivation.ListOf("own", "mL")
	for i := range d.l.pieces[:last+1] {
		switch q := &d.l.pieces[i]; {
		case q.ml == 0:
		case i < first:
			before.Inputs = append(before.Inputs, d.piece(i).Named("before"))
		default:
			own.Inputs = append(own.Inputs, d.piece(i).Named("own"))
		}
	}
	n := derivation.Formula(name, ml, "mL", "sum(own) / 2", own)
	if len(before.Inputs) > 0 {
		n = derivation.Formula(name, ml, "mL", "sum(before) + sum(own) / 2", before, own)
	}
	return n.Noting("water that had run off by the middle of " + of)
}

// firstCaught and lastCaught are the pieces of a pool's water that was caught; see
// load.concentrations.
func (d *Derivations) firstCaught(pool int) int {
	return slices.IndexFunc(d.l.pieces, func(q piece) bool { return q.pool == pool && q.collected && q.ml != 0 })
}

func (d *Derivations) lastCaught(pool int) int {
	last := -1
	for i := range d.l.pieces {
		if q := &d.l.pieces[i]; q.pool == pool && q.collected {
			last = i
		}
	}
	return last
}

// ByFlow returns how the concentration of an interval of the flow came about;
// nil where it has none.
func (d *Derivations) ByFlow(i int) *derivation.Node {
	if i >= len(d.s.ByFlow) || !d.s.ByFlow[i].OK {
		return nil
	}
	c, v := derivation.ListOf("concentration", "g/L"), derivation.ListOf("volume", "mL")
	for k := range d.l.pieces {
		if q := &d.l.pieces[k]; q.flow == i && q.ml != 0 {
			c.Inputs = append(c.Inputs, d.pieceConcentration(k))
			v.Inputs = append(v.Inputs, d.piece(k))
		}
	}
	value := d.s.ByFlow[i].V
	if len(c.Inputs) == 1 && math.Abs(*c.Inputs[0].Value-value) <= 1e-13*math.Abs(value) {
		n := c.Inputs[0]
		return &n
	}
	n := derivation.Formula("concentration", value, "g/L", "dot(concentration, volume) / sum(volume)", c, v)
	return &n
}
