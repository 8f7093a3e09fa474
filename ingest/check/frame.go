package check

import (
	"fmt"
	"sort"
	"strconv"
	"time"

	"sheetwash/ingest/schema"
)

// State says what a decoded cell holds.
type State uint8

// The states of a cell. Invalid means that a finding already says what is wrong
// with it, so that no rule complains a second time. NotHappened is the word for
// "looked for and did not occur", such as none for the start of runoff.
const (
	Absent State = iota
	Present
	NotHappened
	Invalid
)

// Column is the decoded cells of one column. Which slices are filled depends on
// Kind: Num for Number, Time (minutes) and Bool (0 or 1), Code for Text and
// Word, Stamp for Stamp. A nil *Column is a column that the dataset lacks.
type Column struct {
	Name  string
	Kind  schema.Kind
	Open  bool    // a covariate or an analyte: not named by the data dictionary
	Unit  string  // of Num, for analytes and covariates as declared
	State []State // nil: every cell is Present
	Num   []float64
	U     []float64 // standard uncertainty of a class such as 1-3 %; nil: no cell was a class
	Code  []int32   // index into Words
	Words []string
	Stamp []time.Time
}

// Has reports whether cell i holds a value.
func (c *Column) Has(i int) bool { return c != nil && (c.State == nil || c.State[i] == Present) }

// Len returns how many cells the column has.
func (c *Column) Len() int {
	switch c.Kind {
	case schema.Number, schema.Time, schema.Bool:
		return len(c.Num)
	case schema.Stamp:
		return len(c.Stamp)
	}
	return len(c.Code)
}

// States makes the states of a column that had none to tell apart, and returns them.
func (c *Column) States() []State {
	for len(c.State) < c.Len() {
		c.State = append(c.State, Present)
	}
	return c.State
}

// Is returns the state of cell i.
func (c *Column) Is(i int) State {
	if c == nil {
		return Absent
	}
	if c.State == nil {
		return Present
	}
	return c.State[i]
}

// Value returns the number of cell i and whether there is one.
func (c *Column) Value(i int) (float64, bool) {
	if !c.Has(i) {
		return 0, false
	}
	return c.Num[i], true
}

// Word returns the text of cell i; "" where there is none.
func (c *Column) Word(i int) string {
	if !c.Has(i) {
		return ""
	}
	return c.Words[c.Code[i]]
}

// True reports whether cell i of a Bool column is true.
func (c *Column) True(i int) bool { return c.Has(i) && c.Num[i] != 0 }

// Time returns the stamp of cell i; the zero time where there is none.
func (c *Column) Time(i int) time.Time {
	if !c.Has(i) {
		return time.Time{}
	}
	return c.Stamp[i]
}

// Shown says how a column looks in its file: its header, and the way from a
// canonical number back to the number that stands in the cell.
type Shown struct {
	Header string
	Back   func(float64) float64 // nil: the numbers are canonical in the file
}

// Part is a stretch of rows of a Frame that come from one file.
type Part struct {
	File  string
	First int              // index of its first row in the Frame
	Shown map[string]Shown // by our column name
}

// Frame is the decoded rows of one table of the data dictionary.
type Frame struct {
	Table   string
	N       int
	rows    []stretch
	Line    []int64 // line of the file on which a row starts; 0 or beyond the end: as its Row says
	Parts   []Part  // by ascending First
	Columns []*Column
	byName  map[string]*Column
}

// stretch is rows that follow each other in their file.
type stretch struct {
	first int   // index of its first row in the Frame
	row   int64 // of the file
}

// AddRow adds a row that has the number row in its file.
func (f *Frame) AddRow(row int64) {
	if k := len(f.rows) - 1; k < 0 || f.rows[k].row+int64(f.N-f.rows[k].first) != row {
		f.rows = append(f.rows, stretch{f.N, row})
	}
	f.N++
}

// Row returns the number of row i in its file, as findings state it.
func (f *Frame) Row(i int) int64 {
	k := sort.Search(len(f.rows), func(k int) bool { return f.rows[k].first > i }) - 1
	return f.rows[k].row + int64(i-f.rows[k].first)
}

// NewFrame returns an empty frame of a table.
func NewFrame(table string) *Frame {
	return &Frame{Table: table, byName: map[string]*Column{}}
}

// Add gives the frame a column. A second column of the same name replaces the first.
func (f *Frame) Add(c *Column) {
	if old := f.byName[c.Name]; old != nil {
		for i := range f.Columns {
			if f.Columns[i] == old {
				f.Columns[i] = c
			}
		}
	} else {
		f.Columns = append(f.Columns, c)
	}
	f.byName[c.Name] = c
}

// Column returns the column of that name, or nil.
func (f *Frame) Column(name string) *Column { return f.byName[name] }

// Part returns the part that row i belongs to.
func (f *Frame) Part(i int) *Part {
	k := sort.Search(len(f.Parts), func(k int) bool { return f.Parts[k].First > i })
	if k == 0 {
		return &Part{}
	}
	return &f.Parts[k-1]
}

// AtLine adds to a message about row i the line of the file, where that is
// another number because quoted cells hold line breaks.
func (f *Frame) AtLine(i int, message string) string {
	if i < len(f.Line) && f.Line[i] > 0 && f.Line[i] != f.Row(i) {
		return fmt.Sprintf("%s (line %d)", message, f.Line[i])
	}
	return message
}

// text shows cell i of a column as it stands in its file, as far as a decoded
// number allows.
func (f *Frame) text(i int, column string) string {
	c := f.Column(column)
	if !c.Has(i) {
		return ""
	}
	if c.Kind == schema.Number || c.Kind == schema.Time {
		if back := f.Part(i).Shown[column].Back; back != nil {
			return figure(back(c.Num[i]))
		}
	}
	return c.Show(i)
}

// Show writes cell i, which must be Present, for a person: numbers in their
// canonical unit.
func (c *Column) Show(i int) string {
	switch c.Kind {
	case schema.Number, schema.Time:
		return figure(c.Num[i])
	case schema.Bool:
		return strconv.FormatBool(c.Num[i] != 0)
	case schema.Stamp:
		return c.Stamp[i].Format(time.RFC3339)
	default:
		return c.Words[c.Code[i]]
	}
}

// figure writes a number for a person: six significant digits.
func figure(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }
