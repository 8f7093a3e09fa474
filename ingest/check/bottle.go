package check

import (
	"cmp"
	"math"
	"slices"
	"sort"
)

// bottles reads the columns of the samples frame that several rules ask for.
type bottles struct {
	f                             *Frame
	stream, flag, start, end      *Column
	volume, gross, tare           *Column
	sediment, dishGross, dishTare *Column
	concentration, exclude        *Column
	spans                         []span // room for cover
}

func readBottles(d *Draft) bottles {
	f := d.Samples
	return bottles{
		f: f, stream: f.Column("stream"), flag: f.Column("flag"), start: f.Column("start"), end: f.Column("end"),
		volume: f.Column("volume"), gross: f.Column("gross_mass"), tare: f.Column("tare_mass"),
		sediment: f.Column("sediment_mass"), dishGross: f.Column("sediment_gross_mass"), dishTare: f.Column("sediment_tare_mass"),
		concentration: f.Column("concentration"), exclude: f.Column("exclude"),
	}
}

// carriesWater reports whether row i says anything about water: a pooled
// sediment row does not.
func (b *bottles) carriesWater(i int) bool {
	return b.volume.Is(i) != Absent || b.gross.Is(i) != Absent || b.tare.Is(i) != Absent ||
		b.flag.Has(i) && b.flag.Word(i) != "ok" || !b.carriesSediment(i)
}

// carriesSediment reports whether row i says anything about sediment.
func (b *bottles) carriesSediment(i int) bool {
	return b.sediment.Is(i) != Absent || b.dishGross.Is(i) != Absent || b.dishTare.Is(i) != Absent || b.concentration.Is(i) != Absent
}

// timed reports whether row i is of a stream that is caught over time.
func (b *bottles) timed(i int) bool {
	switch b.stream.Word(i) {
	case "runoff", "drainage", "splash":
		return true
	}
	return false
}

// water returns the volume of row i in mL as a check needs it: the volume, or
// gross - tare - sediment with 1 g taken for 1 mL.
func (b *bottles) water(i int) (float64, bool) {
	if v, ok := b.volume.Value(i); ok {
		return v, true
	}
	return b.weighed(i)
}

func (b *bottles) weighed(i int) (float64, bool) {
	g, ok1 := b.gross.Value(i)
	t, ok2 := b.tare.Value(i)
	if !ok1 || !ok2 {
		return 0, false
	}
	const grainDensity = 2.65 // g/mL, quartz
	s, _ := b.dry(i)
	return g - t - s + s/grainDensity, true
}

// dry returns the dry sediment of row i in g, from masses only.
func (b *bottles) dry(i int) (float64, bool) {
	if v, ok := b.sediment.Value(i); ok {
		return v, true
	}
	g, ok1 := b.dishGross.Value(i)
	t, ok2 := b.dishTare.Value(i)
	return g - t, ok1 && ok2
}

// interval returns start and end of row i, min, where both are known and ordered.
func (b *bottles) interval(i int) (start, end float64, ok bool) {
	start, ok1 := b.start.Value(i)
	end, ok2 := b.end.Value(i)
	return start, end, ok1 && ok2 && end > start
}

// covering is intervals of one plot that are asked for overlaps, by ascending
// start, with the latest end so far.
type covering struct{ start, latest []float64 }

type span struct{ start, end float64 }

// cover makes c the intervals of runoff of a plot whose rows keep accepts.
func (b *bottles) cover(c *covering, rows []int32, keep func(i int) bool) {
	spans := b.spans[:0]
	for _, row := range rows {
		i := int(row)
		if b.stream.Word(i) != "runoff" {
			continue
		}
		if s, e, ok := b.interval(i); ok && keep(i) {
			spans = append(spans, span{s, e})
		}
	}
	slices.SortFunc(spans, func(x, y span) int { return cmp.Compare(x.start, y.start) })
	b.spans = spans
	c.start, c.latest = c.start[:0], c.latest[:0]
	latest := math.Inf(-1)
	for _, s := range spans {
		latest = max(latest, s.end)
		c.start, c.latest = append(c.start, s.start), append(c.latest, latest)
	}
}

// overlaps reports whether one of the intervals has more than an instant in
// common with start to end.
func (c *covering) overlaps(start, end float64) bool {
	touch := min(touchMin, (end-start)/4)
	n := sort.SearchFloat64s(c.start, end-touch) // the first that starts too late
	return n > 0 && c.latest[n-1] > start+touch
}
