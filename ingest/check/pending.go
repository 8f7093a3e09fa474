package check

import (
	"fmt"

	"sheetwash/ingest/issue"
)

// pendingSediment notes, once per file, how many bottles of runoff still wait
// for their sediment. A dataset without any sediment column waits for none, and
// neither does a bottle that a row of pooled sediment of its plot covers, nor one whose turbidity the
// rating of the dataset turns into a concentration.
func pendingSediment(d *Draft, into *issue.List) {
	f := d.Samples
	b := readBottles(d)
	type count struct{ first, n int }
	waiting := map[string]*count{}
	pools := map[int32]*covering{} // per plot: rows with sediment
	rating := ratingOf(d, &b)
	for i := range f.N {
		if rating.holds(f.Column("turbidity"), i) {
			continue
		}
		if !SedimentIsPending(d, i) || b.stream.Word(i) != "runoff" || !holdsRunoff(d, &b, i) || pooled(d, &b, i, pools) {
			continue
		}
		file := f.Part(i).File
		c := waiting[file]
		if c == nil {
			c = &count{first: i}
			waiting[file] = c
		}
		c.n++
	}
	for _, part := range f.Parts {
		if c := waiting[part.File]; c != nil {
			is := at(SedimentPending, f, c.first, sedimentColumn(d))
			is.Row, is.Value = 0, ""
			is.Message = fmt.Sprintf("%d bottles with water have no sediment yet, the first in row %d: results from them are marked pending", c.n, f.Row(c.first))
			into.Add(is)
			delete(waiting, part.File)
		}
	}
}

// pooled reports whether a row with sediment of the same plot and stream
// overlaps bottle i, which has none.
func pooled(d *Draft, b *bottles, i int, pools map[int32]*covering) bool {
	p := d.Links.PlotOfSample[i]
	start, end, ok := b.interval(i)
	if p < 0 || !ok {
		return false
	}
	c := pools[p]
	if c == nil {
		c = &covering{}
		b.cover(c, d.Links.Samples(int(p)), b.carriesSediment)
		pools[p] = c
	}
	return c.overlaps(start, end)
}

// sedimentColumn returns the first sediment column that the dataset has; "" if none.
func sedimentColumn(d *Draft) string {
	for _, name := range []string{"sediment_mass", "sediment_gross_mass", "concentration"} {
		if d.Samples.Column(name) != nil {
			return name
		}
	}
	return ""
}

// SedimentIsPending reports whether the dataset has a sediment column and this
// row's sediment is not there: neither a mass, nor a full dish, nor a concentration.
func SedimentIsPending(d *Draft, i int) bool {
	if sedimentColumn(d) == "" {
		return false
	}
	for _, name := range []string{"sediment_mass", "sediment_gross_mass", "concentration"} {
		if d.Samples.Column(name).Is(i) != Absent {
			return false
		}
	}
	return true
}
