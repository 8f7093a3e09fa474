// Package table reads named columns of cells, with the place of each, from
// delimited text and workbooks, and defines the batches in which every reader
// (the columnar one as well) hands rows on.
//
// It knows bytes, delimiters, quotes and encodings; it knows nothing of the data
// dictionary, of units or of what a cell means.
package table

import (
	"context"

	"sheetwash/ingest/issue"
)

// Field is one column as found in a file.
type Field struct {
	Name string // header as found, trimmed
	Unit string // unit from field metadata (Arrow, Parquet); "" elsewhere
}

// Table is one opened table whose header has been read.
type Table interface {
	// File is the path below the dataset, for findings; a sheet or a member of
	// an archive is appended as "book.xlsx#plots" or "day.zip/plots.csv".
	File() string
	// Name is the file's or sheet's base name without extensions, in lower case.
	Name() string
	Fields() []Field
	// Issues holds what opening found: guessed encoding, delimiter and decimal
	// mark as notes, faults of the header as errors.
	Issues() *issue.List
	// DecimalComma reports whether numbers in text cells use a decimal comma.
	DecimalComma() bool
	// Scan reads all rows. It calls work for each batch on up to opt.Workers
	// goroutines, and commit with what work returned in the order of the file
	// on one goroutine at a time. A batch and the bytes it shows are valid only
	// during work. The division into batches does not depend on opt.Workers.
	// Faults of the file are issues of the batch; the error is for I/O and ctx.
	Scan(ctx context.Context, opt ScanOptions, work func(*Batch) any, commit func(any)) error
	Close() error
}

// ScanOptions says how to scan.
type ScanOptions struct {
	Workers int    // at least 1
	Want    []bool // per field: whether its cells will be asked for; nil: all
}

// Batch is a stretch of consecutive rows.
type Batch struct {
	N      int      // rows
	Cols   []Column // one per field; a column that was not wanted is empty
	Issues issue.List
	rows   func(i int) int64
	lines  func(i int) int64
}

// NewBatch returns a batch of n rows; row gives the number of each as findings
// state it. line gives the line of the file, or is nil where lines equal rows.
func NewBatch(n int, cols []Column, row, line func(i int) int64) *Batch {
	return &Batch{N: n, Cols: cols, rows: row, lines: line}
}

// Row returns the number of row i as a finding states it.
func (b *Batch) Row(i int) int64 { return b.rows(i) }

// Line returns the line of the file on which row i starts, or 0 where lines
// equal rows or there are none.
func (b *Batch) Line(i int) int64 {
	if b.lines == nil {
		return 0
	}
	return b.lines(i)
}

// Kind is how a column of a batch is held.
type Kind uint8

// The kinds of column. Text is bytes per cell; Dict is codes into Words; the
// others come from typed files.
const (
	Text Kind = iota
	Dict
	Float
	Int
	Bool
)

// Column is the cells of one field in one batch.
type Column struct {
	Kind         Kind
	Null         []bool // nil: no cell is null; text files have no nulls, only empty cells
	Float        []float64
	Int          []int64
	Bool         []bool
	Codes        []int32
	Words        []string
	Buf          []byte // Text: cell i is Buf[Spans[i*Stride+Base]]
	Spans        []Span
	Stride, Base int
}

// Span is a half-open range of bytes.
type Span struct{ Start, End uint32 }

// IsNull reports whether cell i is null. An empty text cell is not null here.
func (c *Column) IsNull(i int) bool { return c.Null != nil && c.Null[i] }

// Bytes returns the text of cell i of a Text column, unquoted. It is valid
// during the call of work only.
func (c *Column) Bytes(i int) []byte {
	s := c.Spans[i*c.Stride+c.Base]
	return c.Buf[s.Start:s.End]
}
