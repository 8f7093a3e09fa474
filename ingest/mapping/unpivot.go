package mapping

import (
	"context"
	"slices"
	"strings"

	"sheetwash/ingest/table"
)

// unpivoted is a table of which the columns that fit a pattern are shown as rows.
type unpivoted struct {
	table.Table
	fields    []table.Field
	kept      []int    // fields of the table below that stay columns
	groups    []string // named groups, each a column
	sets      []set    // what one row below becomes: a row per set
	measures  []string // the columns that hold the cells
	dropEmpty bool
}

// set is one combination of the matched groups and the fields that hold its cells.
type set struct {
	groups []string // one per group
	cells  []int    // field per measure; -1: the file has no such column
}

// newUnpivoted returns the view, or nil and the headers if none fits.
func newUnpivoted(t table.Table, rule *Unpivot) (*unpivoted, []string) {
	u := &unpivoted{Table: t, dropEmpty: rule.DropEmpty}
	names := rule.Columns.SubexpNames()
	for _, g := range names[1:] {
		if g != measureGroup {
			u.groups = append(u.groups, g)
		}
	}
	var headers []string
	for i, f := range t.Fields() {
		headers = append(headers, f.Name)
		match := rule.Columns.FindStringSubmatch(f.Name)
		if match == nil {
			u.kept = append(u.kept, i)
			continue
		}
		measure := rule.Value
		var groups []string
		for k, g := range names[1:] {
			if g == measureGroup {
				measure = match[k+1]
			} else {
				groups = append(groups, match[k+1])
			}
		}
		u.put(groups, measure, i)
	}
	if len(u.sets) == 0 {
		return nil, headers
	}
	u.makeFields(t)
	return u, nil
}

// put notes that field i holds a measure of the set with those groups.
func (u *unpivoted) put(groups []string, measure string, i int) {
	m := slices.Index(u.measures, measure)
	if m < 0 {
		m = len(u.measures)
		u.measures = append(u.measures, measure)
	}
	at := slices.IndexFunc(u.sets, func(s set) bool { return slices.Equal(s.groups, groups) })
	if at < 0 {
		at = len(u.sets)
		u.sets = append(u.sets, set{groups: groups})
	}
	for len(u.sets[at].cells) <= m {
		u.sets[at].cells = append(u.sets[at].cells, -1)
	}
	u.sets[at].cells[m] = i
}

func (u *unpivoted) makeFields(t table.Table) {
	for i := range u.sets {
		for len(u.sets[i].cells) < len(u.measures) {
			u.sets[i].cells = append(u.sets[i].cells, -1)
		}
	}
	for _, i := range u.kept {
		u.fields = append(u.fields, t.Fields()[i])
	}
	for _, g := range u.groups {
		u.fields = append(u.fields, table.Field{Name: g})
	}
	for _, m := range u.measures {
		u.fields = append(u.fields, table.Field{Name: strings.TrimSpace(m)})
	}
}

// sources returns the fields of the table below that become rows.
func (u *unpivoted) sources() []int {
	var out []int
	for _, s := range u.sets {
		for _, i := range s.cells {
			if i >= 0 {
				out = append(out, i)
			}
		}
	}
	return out
}

// Fields returns the columns that stay, then the groups, then the cells.
func (u *unpivoted) Fields() []table.Field { return u.fields }

// Scan scans the table below; each of its rows becomes one row per set, with
// the number of the row it comes from.
func (u *unpivoted) Scan(ctx context.Context, opt table.ScanOptions, work func(*table.Batch) any, commit func(any)) error {
	if opt.Want != nil {
		below := make([]bool, len(u.Table.Fields()))
		for k, i := range u.kept {
			below[i] = opt.Want[k]
		}
		opt.Want = wanted(below, len(below), u.sources()...)
	}
	return u.Table.Scan(ctx, opt, func(b *table.Batch) any { return work(u.turn(b)) }, commit)
}

// turn makes the rows of one batch.
func (u *unpivoted) turn(b *table.Batch) *table.Batch {
	var idx []int
	var which []int32
	buf := make([]byte, 0, 64)
	for i := range b.N {
		for k := range u.sets {
			if u.dropEmpty && u.empty(b, i, u.sets[k], buf) {
				continue
			}
			idx = append(idx, i)
			which = append(which, int32(k))
		}
	}
	cols := make([]table.Column, 0, len(u.fields))
	for _, i := range u.kept {
		cols = append(cols, gather(&b.Cols[i], idx))
	}
	for g := range u.groups {
		c := table.Column{Kind: table.Dict, Codes: which}
		for _, s := range u.sets {
			c.Words = append(c.Words, s.groups[g])
		}
		cols = append(cols, c)
	}
	for m := range u.measures {
		cols = append(cols, u.cells(b, idx, which, m))
	}
	return rebatch(b, idx, cols)
}

func (u *unpivoted) empty(b *table.Batch, i int, s set, buf []byte) bool {
	for _, f := range s.cells {
		if f >= 0 && len(strings.TrimSpace(string(appendCell(buf[:0], &b.Cols[f], i)))) > 0 {
			return false
		}
	}
	return true
}

// cells copies the text of one measure.
func (u *unpivoted) cells(b *table.Batch, idx []int, which []int32, m int) table.Column {
	c := table.Column{Kind: table.Text, Stride: 1, Spans: make([]table.Span, len(idx))}
	for k, i := range idx {
		start := len(c.Buf)
		if f := u.sets[which[k]].cells[m]; f >= 0 {
			c.Buf = appendCell(c.Buf, &b.Cols[f], i)
		}
		c.Spans[k] = table.Span{Start: uint32(start), End: uint32(len(c.Buf))}
	}
	return c
}
