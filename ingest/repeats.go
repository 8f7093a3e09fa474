package ingest

import (
	"math"

	"sheetwash/ingest/check"
	"sheetwash/ingest/schema"
)

// repeats leaves out rows of a joined table that say nothing new, while they are
// read: those whose every cell is empty or that of the first row of their key.
// distinct would merge them away without a word, so that nothing is lost but the
// memory that one row of the run per bottle would take.
type repeats struct {
	keys   []string
	first  map[string]int // row of the frame by the codes of its key
	key    []byte
	last   string
	lastAt int
}

// newRepeats returns nil for a table whose rows are never merged.
func newRepeats(table string) *repeats {
	switch table {
	case "runs":
		return &repeats{keys: []string{"run"}, first: map[string]int{}}
	case "plots":
		return &repeats{keys: []string{"run", "plot"}, first: map[string]int{}}
	}
	return nil
}

// news returns those rows of a chunk that are to be kept. The first will be row at
// of the frame; the codes of cols are those of columns.
func (r *repeats) news(at int, columns []*check.Column, cols []cells, n int) []int {
	keep := make([]int, 0, n)
	for i := range n {
		if !r.codes(columns, cols, i) {
			keep = append(keep, i)
			continue
		}
		if string(r.key) != r.last || r.last == "" {
			first, seen := r.first[string(r.key)]
			if !seen {
				first = at + len(keep)
				r.first[string(r.key)] = first
			}
			r.last, r.lastAt = string(r.key), first
		}
		if same := r.lastAt - at; same == len(keep) || !repeated(columns, cols, i, r.lastAt, keep, same) {
			keep = append(keep, i)
		}
	}
	return keep
}

// codes sets the key of row i of a chunk, and reports whether it is complete.
func (r *repeats) codes(columns []*check.Column, cols []cells, i int) bool {
	r.key = r.key[:0]
	for _, name := range r.keys {
		found := false
		for k, c := range columns {
			if c.Name != name || cols[k].state[i] != check.Present {
				continue
			}
			code := cols[k].code[i]
			r.key = append(r.key, byte(code), byte(code>>8), byte(code>>16), byte(code>>24))
			found = true
		}
		if !found {
			return false
		}
	}
	return true
}

// repeated reports whether every cell of row i of a chunk is empty or equal to
// that of the first row of its key: row first of the frame, or row keep[same] of
// the chunk where same is not negative.
func repeated(columns []*check.Column, cols []cells, i, first int, keep []int, same int) bool {
	for k, c := range columns {
		if cols[k].state[i] == check.Absent {
			continue
		}
		state, num, code, stamp := check.Absent, c.Num, c.Code, c.Stamp
		j := first
		switch {
		case same >= 0:
			num, code, stamp = cols[k].num, cols[k].code, cols[k].stamp
			j = keep[same]
			state = cols[k].state[j]
		case j < c.Len():
			state = c.Is(j)
		}
		switch {
		case state != cols[k].state[i], state == check.Invalid:
			return false
		case state == check.NotHappened:
			continue
		}
		switch c.Kind {
		case schema.Number, schema.Time, schema.Bool:
			if math.Float64bits(num[j]) != math.Float64bits(cols[k].num[i]) {
				return false
			}
		case schema.Stamp:
			if !stamp[j].Equal(cols[k].stamp[i]) {
				return false
			}
		default:
			if code[j] != cols[k].code[i] {
				return false
			}
		}
	}
	return true
}

// pick returns the given rows of a chunk's cells.
func (c cells) pick(rows []int) cells {
	out := cells{state: picked(c.state, rows), num: picked(c.num, rows), u: picked(c.u, rows), code: picked(c.code, rows),
		words: c.words, stamp: picked(c.stamp, rows), local: c.local}
	at := 0
	for _, l := range c.later {
		for at < len(rows) && rows[at] < l.row {
			at++
		}
		if at < len(rows) && rows[at] == l.row {
			out.later = append(out.later, laterCell{row: at, text: l.text})
		}
	}
	return out
}

func picked[T any](all []T, rows []int) []T {
	if all == nil {
		return nil
	}
	out := make([]T, len(rows))
	for j, i := range rows {
		out[j] = all[i]
	}
	return out
}
