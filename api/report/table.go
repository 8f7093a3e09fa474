package report

import (
	"io"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// Kind is what the cells of a column are.
type Kind uint8

// The kinds of column.
const (
	Text Kind = iota
	Number
	Integer
	Bool
)

// String returns the type's name in a Frictionless Table Schema.
func (k Kind) String() string {
	return [...]string{"string", "number", "integer", "boolean"}[k]
}

// Column describes one column of a result table.
type Column struct {
	Name     string
	Kind     Kind
	Unit     string // UCUM code of its numbers; "": none, or ByRow
	ByRow    bool   // the unit of its numbers stands in the row's unit column
	Optional bool   // may be missing: an empty cell in CSV, null elsewhere
	Meaning  string
}

// Table describes one result table.
type Table struct {
	Name    string
	Per     string // what one row stands for
	Columns []Column
}

// Tables describes the seven result tables in units u, in the order of the
// results contract.
func Tables(u Units) []Table {
	var out []Table
	for _, t := range tables() {
		out = append(out, t.describe(u))
	}
	return out
}

// Find returns the description of one table in units u.
func Find(name string, u Units) (Table, bool) {
	for _, t := range tables() {
		if t.called() == name {
			return t.describe(u), true
		}
	}
	return Table{}, false
}

// tables lists the result tables. Each is a sheet of one row type, held behind
// an interface that knows nothing of it.
func tables() []writable {
	return []writable{findings, hydrograph, plotResults, fits, treatmentResults, comparisons, calibrations}
}

// writable is a sheet whatever its rows are.
type writable interface {
	called() string
	describe(Units) Table
	write(w io.Writer, a *result.Analysis, opt Options) error
}

// sheet is a result table with rows of type R.
type sheet[R any] struct {
	name, per string
	rows      func(*result.Analysis) records[R]
	unit      func(*R) string // canonical unit of the ByRow columns of a row; nil: there are none
	columns   []column[R]
}

// column is a Column with the way to its cells. Exactly one of the functions is
// set: it makes the kind.
type column[R any] struct {
	Column
	text    func(*R) string // "" is missing where Optional
	number  func(*R) quantity.Optional
	integer func(*R) int64 // 0 is missing where Optional
	boolean func(*R) bool
	as      func(*R) bool // ByRow: whether the number of this row has the row's unit; nil: always
	isUnit  bool          // the text is the row's unit
}

func (s *sheet[R]) called() string { return s.name }

func (s *sheet[R]) describe(u Units) Table {
	t := Table{Name: s.name, Per: s.per}
	for i := range s.columns {
		c := s.columns[i].Column
		c.Name, c.Unit = u.column(c.Name, c.Unit)
		t.Columns = append(t.Columns, c)
	}
	return t
}

// text makes a column of words.
func text[R any](name, meaning string, get func(*R) string) column[R] {
	return column[R]{Column: Column{Name: name, Kind: Text, Meaning: meaning}, text: get}
}

// number makes a column of numbers in a fixed unit. It may be missing.
func number[R any](name, unit, meaning string, get func(*R) quantity.Optional) column[R] {
	return column[R]{Column: Column{Name: name, Kind: Number, Unit: unit, Optional: true, Meaning: meaning}, number: get}
}

// amount makes a column of numbers in the unit of their row. It may be missing.
func amount[R any](name, meaning string, get func(*R) quantity.Optional) column[R] {
	return column[R]{Column: Column{Name: name, Kind: Number, ByRow: true, Optional: true, Meaning: meaning}, number: get}
}

// count makes a column of whole numbers.
func count[R any](name, meaning string, get func(*R) int64) column[R] {
	return column[R]{Column: Column{Name: name, Kind: Integer, Meaning: meaning}, integer: get}
}

// unitColumn makes the column that names the unit of a row.
func unitColumn[R any](meaning string) column[R] {
	return column[R]{Column: Column{Name: "unit", Kind: Text, Meaning: meaning}, isUnit: true}
}

// truth makes a column of true and false.
func truth[R any](name, meaning string, get func(*R) bool) column[R] {
	return column[R]{Column: Column{Name: name, Kind: Bool, Meaning: meaning}, boolean: get}
}

// optional marks a column whose empty text or zero count is a missing cell.
func optional[R any](c column[R]) column[R] {
	c.Optional = true
	return c
}
