package ingest

import (
	"fmt"

	"sheetwash/ingest/check"
	"sheetwash/ingest/issue"
	"sheetwash/ingest/schema"
)

// distinct reduces a frame that was read from a joined table to one row per key.
// Rows of one key must agree in every column; an empty cell agrees with
// everything and is filled from the rows that have a value. Rows without a key
// are left out where skip is set: the table below reports them.
func distinct(f *check.Frame, keys []string, code issue.Code, skip bool, into *issue.List) *check.Frame {
	groups := newKeyed(f, keys)
	var first []int // row of f per row of the result
	at := map[string]int{}
	merged := make([]int, f.N) // row of the result per row of f; -1: left out
	for i := range f.N {
		k, complete := groups.key(i)
		if !complete && skip {
			merged[i] = -1
			continue
		}
		j, seen := at[k]
		if !seen || !complete {
			j = len(first)
			first = append(first, i)
			if complete {
				at[k] = j
			}
		}
		merged[i] = j
	}
	out := placesOf(f, first)
	for _, c := range f.Columns {
		out.Add(mergeColumn(f, c, out.N, merged, first, code, into))
	}
	return out
}

// placesOf returns a frame for some rows of another: their places, and no columns yet.
func placesOf(f *check.Frame, rows []int) *check.Frame {
	out := check.NewFrame(f.Table)
	for j, i := range rows {
		out.AddRow(f.Row(i))
		if i < len(f.Line) && f.Line[i] > 0 {
			out.Line = append(grow(out.Line, j), f.Line[i])
		}
		if p := f.Part(i); len(out.Parts) == 0 || out.Parts[len(out.Parts)-1].File != p.File {
			q := *p
			q.First = j
			out.Parts = append(out.Parts, q)
		}
	}
	return out
}

// keyed builds the key of a row from the codes of its key columns.
type keyed struct {
	columns []*check.Column
	buf     []byte
}

func newKeyed(f *check.Frame, keys []string) *keyed {
	k := &keyed{}
	for _, name := range keys {
		k.columns = append(k.columns, f.Column(name))
	}
	return k
}

func (k *keyed) key(i int) (key string, complete bool) {
	k.buf = k.buf[:0]
	for _, c := range k.columns {
		if !c.Has(i) {
			return "", false
		}
		code := c.Code[i]
		k.buf = append(k.buf, byte(code), byte(code>>8), byte(code>>16), byte(code>>24))
	}
	return string(k.buf), true
}

// mergeColumn gives each row of the result the first value of its group, and
// reports the rows that have another.
func mergeColumn(f *check.Frame, c *check.Column, n int, merged, first []int, code issue.Code, into *issue.List) *check.Column {
	out := &check.Column{Name: c.Name, Kind: c.Kind, Open: c.Open, Unit: c.Unit, Words: c.Words}
	pad(out, n)
	if c.U != nil {
		out.U = make([]float64, n)
	}
	from := make([]int, n) // row of f that gave the value
	for i, j := range merged {
		if j < 0 || c.Is(i) == check.Absent {
			continue
		}
		if out.State[j] == check.Absent {
			out.State[j], from[j] = c.Is(i), i
			copyCell(out, j, c, i)
			continue
		}
		if !equalCells(out, j, c, i) {
			p := f.Part(i)
			header := p.Shown[c.Name].Header
			if header == "" {
				header = c.Name
			}
			into.Add(issue.Issue{Code: code, Severity: severityOf(code), File: p.File, Table: f.Table, Row: f.Row(i), Column: header, Value: cellValue(c, i),
				Message: f.AtLine(i, fmt.Sprintf("%s differs from row %d, which has %q for the same %s: make the rows equal, or give the %s a table of their own",
					c.Name, f.Row(from[j]), cellValue(out, j), keyWord(code), f.Table))})
		}
	}
	return out
}

func keyWord(code issue.Code) string {
	if code == RunDisagrees {
		return "run"
	}
	return "plot"
}

func copyCell(to *check.Column, j int, from *check.Column, i int) {
	switch from.Kind {
	case schema.Number, schema.Time, schema.Bool:
		to.Num[j] = from.Num[i]
		if from.U != nil {
			to.U[j] = from.U[i]
		}
	case schema.Stamp:
		to.Stamp[j] = from.Stamp[i]
	default:
		to.Code[j] = from.Code[i]
	}
}

func equalCells(a *check.Column, j int, b *check.Column, i int) bool {
	if a.Is(j) == check.Invalid || b.Is(i) == check.Invalid {
		return true // reported already
	}
	if a.Is(j) != b.Is(i) {
		return false
	}
	if a.Is(j) != check.Present {
		return true
	}
	switch a.Kind {
	case schema.Number, schema.Time, schema.Bool:
		return a.Num[j] == b.Num[i]
	case schema.Stamp:
		return a.Stamp[j].Equal(b.Stamp[i])
	default:
		return a.Code[j] == b.Code[i]
	}
}

// cellValue shows a decoded cell in canonical units.
func cellValue(c *check.Column, i int) string {
	switch c.Is(i) {
	case check.NotHappened:
		return "none"
	case check.Present:
		return c.Show(i)
	}
	return ""
}
