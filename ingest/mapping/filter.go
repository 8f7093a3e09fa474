package mapping

import (
	"bytes"
	"context"

	"sheetwash/ingest/table"
)

// filtered is a table of which only some rows are shown.
type filtered struct {
	table.Table
	where, skip []fieldCondition
}

// fieldCondition is a field and the words that its trimmed cell may be.
type fieldCondition struct {
	field int
	words map[string]bool
}

func (c fieldCondition) holds(b *table.Batch, i int, buf []byte) bool {
	return c.words[string(bytes.TrimSpace(appendCell(buf[:0], &b.Cols[c.field], i)))]
}

// Scan scans the table below and hands on the rows that hold every condition
// of where and none of skip, with their numbers.
func (f *filtered) Scan(ctx context.Context, opt table.ScanOptions, work func(*table.Batch) any, commit func(any)) error {
	var tested []int
	for _, c := range f.where {
		tested = append(tested, c.field)
	}
	for _, c := range f.skip {
		tested = append(tested, c.field)
	}
	opt.Want = wanted(opt.Want, len(f.Fields()), tested...)
	return f.Table.Scan(ctx, opt, func(b *table.Batch) any {
		idx := f.rows(b)
		cols := make([]table.Column, len(b.Cols))
		for i := range cols {
			cols[i] = gather(&b.Cols[i], idx)
		}
		return work(rebatch(b, idx, cols))
	}, commit)
}

func (f *filtered) rows(b *table.Batch) []int {
	idx := make([]int, 0, b.N)
	buf := make([]byte, 0, 64)
rows:
	for i := range b.N {
		for _, c := range f.where {
			if !c.holds(b, i, buf) {
				continue rows
			}
		}
		for _, c := range f.skip {
			if c.holds(b, i, buf) {
				continue rows
			}
		}
		idx = append(idx, i)
	}
	return idx
}
