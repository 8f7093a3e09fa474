package rows

import (
	"slices"
	"strings"

	"sheetwash/analysis/result"
	"sheetwash/api/report"
)

// Filter keeps the rows that callers want. The values of one column are
// alternatives, columns add up.
type Filter struct {
	columns []int
	want    [][]string
	flags   []bool // the cell holds flag words
	scratch [][]byte
}

// NewFilter returns the filter for the columns of a table; wanted is by column
// name. It returns the name of a column that the table does not have, "" if all
// are there. A flag is wanted by its word, without the number it may carry.
func NewFilter(t report.Table, wanted map[string][]string) (f *Filter, unknown string) {
	f = &Filter{}
	for i, c := range t.Columns {
		values, ok := wanted[c.Name]
		if !ok {
			continue
		}
		f.columns = append(f.columns, i)
		f.want = append(f.want, values)
		f.flags = append(f.flags, c.Name == "flags" || c.Name == "flag")
		wanted = without(wanted, c.Name)
	}
	for name := range wanted {
		unknown = max(unknown, name)
	}
	return f, unknown
}

func without(m map[string][]string, name string) map[string][]string {
	out := map[string][]string{}
	for k, v := range m {
		if k != name {
			out[k] = v
		}
	}
	return out
}

// All reports whether every row is wanted.
func (f *Filter) All() bool { return len(f.columns) == 0 }

// Match reports whether a row is wanted.
func (f *Filter) Match(row []byte) (bool, error) {
	if f.All() {
		return true, nil
	}
	cells, err := Cells(f.scratch, row)
	if err != nil {
		return false, err
	}
	f.scratch = cells
	for i, col := range f.columns {
		if col >= len(cells) {
			return false, ErrRow
		}
		ok, err := f.wants(i, cells[col])
		if err != nil || !ok {
			return false, err
		}
	}
	return true, nil
}

func (f *Filter) wants(i int, cell []byte) (bool, error) {
	if null(cell) {
		return false, nil
	}
	if cell[0] != '"' {
		return slices.Contains(f.want[i], string(cell)), nil
	}
	s, err := word(cell)
	if err != nil {
		return false, err
	}
	if !f.flags[i] {
		return slices.Contains(f.want[i], s), nil
	}
	for _, flag := range strings.Fields(s) {
		if slices.Contains(f.want[i], result.WordOf(flag)) || slices.Contains(f.want[i], flag) {
			return true, nil
		}
	}
	return false, nil
}
