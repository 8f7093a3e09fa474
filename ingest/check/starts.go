package check

import (
	"cmp"
	"fmt"
	"slices"

	"sheetwash/ingest/issue"
	"sheetwash/ingest/schema"
)

// FillStarts gives each bottle without a start the end of the one before it on
// the same plot and stream, and the first one 0. Rows that carry water and rows
// that only carry pooled sediment are two sequences. One note per file says so.
func FillStarts(d *Draft, into *issue.List) {
	f := d.Samples
	if f.N == 0 {
		return
	}
	if f.Column("start") == nil {
		f.Add(&Column{Name: "start", Kind: schema.Time, State: make([]State, f.N), Num: make([]float64, f.N)})
	}
	b := readBottles(d)
	filled := map[string]int{}
	first := map[string]int{}
	for p := range d.Plots.N {
		rows := slices.Clone(d.Links.Samples(p))
		slices.SortFunc(rows, func(x, y int32) int {
			ex, _ := b.end.Value(int(x))
			ey, _ := b.end.Value(int(y))
			return cmp.Or(cmp.Compare(b.stream.Word(int(x)), b.stream.Word(int(y))),
				cmp.Compare(ex, ey), cmp.Compare(x, y))
		})
		type sequence struct {
			stream string
			water  bool
		}
		last := map[sequence]float64{}
		for _, row := range rows {
			i := int(row)
			if !b.timed(i) || !b.end.Has(i) {
				continue
			}
			s := sequence{b.stream.Word(i), b.carriesWater(i)}
			if b.start.Is(i) == Absent {
				b.start.States()[i], b.start.Num[i] = Present, last[s]
				file := f.Part(i).File
				if filled[file] == 0 || i < first[file] {
					first[file] = i
				}
				filled[file]++
			}
			last[s] = b.end.Num[i]
		}
	}
	if len(filled) == 0 {
		return
	}
	d.Order()
	for _, part := range f.Parts {
		if n := filled[part.File]; n > 0 {
			is := at(StartDefault, f, first[part.File], "start")
			is.Value, is.Row = "", 0
			is.Message = fmt.Sprintf("start is not given for %d samples, the first in row %d: the end of the bottle before is taken, and 0 for the first of a plot", n, f.Row(first[part.File]))
			into.Add(is)
			delete(filled, part.File)
		}
	}
}
