package table

import (
	"fmt"
	"math"
	"strings"

	"sheetwash/ingest/issue"
)

// sheet is a sheet of a workbook as a table. It is held whole: workbooks are small.
type sheet struct {
	file, name string
	header     int // row of the header
	fields     []Field
	issues     issue.List
	buf        []byte
	spans      []Span // len(fields) a row
	rows       []int  // number of each row as the spreadsheet shows it
	faults     []cellFault
}

// cellFault is what is wrong with one cell; it counts where the cell is asked for.
type cellFault struct {
	row, field int // indices
	issue      issue.Issue
}

// sheetRow is a row as read.
type sheetRow struct {
	number int
	cells  []sheetCell
}

// sheetCell is a cell as read.
type sheetCell struct {
	text   string
	merged bool // the text is that of the merged cells it belongs to
	fault  issue.Code
	advice string
}

func (s *sheet) File() string        { return s.file }
func (s *sheet) Name() string        { return s.name }
func (s *sheet) Fields() []Field     { return s.fields }
func (s *sheet) Issues() *issue.List { return &s.issues }
func (s *sheet) DecimalComma() bool  { return false }
func (s *sheet) Close() error        { return nil }

func (s *sheet) setHeader(cells []sheetCell) {
	s.fields = make([]Field, len(cells))
	for i, c := range cells {
		if c.merged && i > 0 && cells[i-1].text == c.text {
			continue // merged sideways: the name belongs to the first column
		}
		s.fields[i].Name = strings.TrimSpace(c.text)
	}
}

// add keeps a row of data. A row that reaches beyond the header gives the table
// further columns, without a name.
func (s *sheet) add(r sheetRow) error {
	last := len(r.cells)
	for last > 0 && r.cells[last-1].text == "" && r.cells[last-1].fault == "" {
		last--
	}
	if last > len(s.fields) {
		s.widen(last)
	}
	if (len(s.rows)+1)*len(s.fields) > maxCells || len(s.buf) > math.MaxInt32 {
		return fmt.Errorf("%w: sheet %s has more than %d cells", errTooLarge, s.name, maxCells)
	}
	for i := range s.fields {
		start := uint32(len(s.buf))
		if i < len(r.cells) {
			c := &r.cells[i]
			s.buf = append(s.buf, c.text...)
			s.report(i, r.number, c)
		}
		s.spans = append(s.spans, Span{start, uint32(len(s.buf))})
	}
	s.rows = append(s.rows, r.number)
	return nil
}

// widen gives each row so far empty cells up to n columns.
func (s *sheet) widen(n int) {
	old := len(s.fields)
	spans := make([]Span, 0, n*(len(s.rows)+1))
	for i := range s.rows {
		spans = append(spans, s.spans[i*old:(i+1)*old]...)
		spans = append(spans, make([]Span, n-old)...)
	}
	s.spans = spans
	s.fields = append(s.fields, make([]Field, n-old)...)
}

// report keeps what is wrong with a cell until the cell is asked for.
func (s *sheet) report(field, row int, c *sheetCell) {
	i := issue.Issue{File: s.file, Row: int64(row), Column: s.fields[field].Name, Value: c.text}
	switch {
	case c.fault != "":
		i.Code, i.Severity, i.Message = c.fault, issue.Error, c.advice
	case c.merged && c.text != "":
		i.Code, i.Severity, i.Message = CodeWorkbookMerged, issue.Note, "the cell is merged with others; the value is taken for each of them"
	default:
		return
	}
	s.faults = append(s.faults, cellFault{len(s.rows), field, i})
}

// checkNames reports columns that share a name or have none, and a sheet without
// rows.
func (s *sheet) checkNames() {
	first := map[string]int{}
	var unnamed []string
	at := func(code issue.Code, severity issue.Severity, column, message string) {
		s.issues.Add(issue.Issue{Code: code, Severity: severity, File: s.file, Row: int64(s.header), Column: column, Message: message})
	}
	for i, f := range s.fields {
		j, twice := first[f.Name]
		switch {
		case f.Name == "":
			unnamed = append(unnamed, fmt.Sprint(i+1))
		case twice:
			at(CodeHeaderDuplicate, issue.Error, f.Name, fmt.Sprintf("columns %d and %d have the same name; rename one", j+1, i+1))
		default:
			first[f.Name] = i
		}
	}
	if len(unnamed) > 0 {
		at(CodeHeaderUnnamed, issue.Note, "", "columns without a name are left unused: "+strings.Join(unnamed[:min(20, len(unnamed))], ", "))
	}
	if len(s.rows) == 0 {
		at(CodeNoRows, issue.Warning, "", "the sheet has a header and no row below it")
	}
}

// batch shows rows from to to.
func (s *sheet) batch(from, to int, want []bool) *Batch {
	n := len(s.fields)
	cols := make([]Column, n)
	for i := range cols {
		if want == nil || want[i] {
			cols[i] = Column{Kind: Text, Buf: s.buf, Spans: s.spans[from*n : to*n], Stride: n, Base: i}
		}
	}
	rows := s.rows[from:to]
	b := NewBatch(to-from, cols, func(i int) int64 { return int64(rows[i]) }, nil)
	for _, f := range s.faults {
		if f.row >= from && f.row < to && (want == nil || want[f.field]) {
			b.Issues.Add(f.issue)
		}
	}
	return b
}
