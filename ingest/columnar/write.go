package columnar

import (
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/compress"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"
)

// Format is a file format that Write produces.
type Format uint8

// The formats. ArrowFile has a footer and can be read at any place; ArrowStream
// is for a connection.
const (
	ArrowFile Format = iota + 1
	ArrowStream
	Parquet
)

// OutKind says which slice of an OutColumn holds its cells.
type OutKind uint8

// The kinds of column that Write knows.
const (
	OutText  OutKind = iota // utf8
	OutFloat                // float64
	OutInt                  // int64
	OutBool                 // bool
)

// OutColumn is one column of a result table.
type OutColumn struct {
	Name  string
	Unit  string            // UCUM code, written as field metadata "unit"; "": none
	Meta  map[string]string // further field metadata, such as a definition
	Kind  OutKind
	Text  []string
	Float []float64 // a present NaN or infinity is refused
	Int   []int64
	Bool  []bool
	Null  []bool // nil: every cell is present
}

// OutTable is a result table: columns of one length.
type OutTable struct {
	Columns []OutColumn
	Meta    map[string]string // metadata of the schema
}

// writerName is what Parquet files name as their writer; fixed, so that equal
// tables give equal bytes with every build.
const writerName = "sheetwash"

// RowsPerGroup is the number of rows that make a good record batch or row group.
const RowsPerGroup = 1 << 18

// ErrOutTable is wrapped by Write when the table itself is wrong: columns of
// different lengths, two of one name, or a number that is not finite.
var ErrOutTable = errors.New("table cannot be written")

// Writer writes a table in record batches or row groups.
type Writer struct {
	out    *sink
	schema *arrow.Schema
	write  func(arrow.Record) error
	done   func() error
}

// NewWriter starts a file with the columns of head, whose cells are ignored.
func NewWriter(w io.Writer, f Format, head *OutTable) (*Writer, error) {
	if _, err := head.check(); err != nil {
		return nil, err
	}
	n := &Writer{out: &sink{w: w}, schema: head.schema()}
	var err error
	if n.write, n.done, err = newRecordWriter(n.out, f, n.schema); err != nil {
		return nil, fmt.Errorf("start columnar file: %w", err)
	}
	return n, nil
}

// Write writes the rows of t, which has the columns of the head, as one batch.
// Errors: ErrOutTable, and those of the file.
func (n *Writer) Write(t *OutTable) error {
	rows, err := t.check()
	if err != nil {
		return err
	}
	return n.batch(t, 0, rows)
}

func (n *Writer) batch(t *OutTable, from, to int) error {
	rec := t.record(n.schema, from, to)
	defer rec.Release()
	return errors.Join(n.write(rec), n.out.err)
}

// Close finishes the file.
func (n *Writer) Close() error {
	if err := errors.Join(n.done(), n.out.err); err != nil {
		return fmt.Errorf("finish columnar file: %w", err)
	}
	return nil
}

// Write writes t. Equal tables give equal bytes: there are no time stamps, and
// metadata is in the order of its keys. Parquet is compressed with zstd; Arrow is
// not compressed, so that a reader may map it.
func Write(w io.Writer, f Format, t *OutTable) error {
	rows, err := t.check()
	if err != nil {
		return err
	}
	n, err := NewWriter(w, f, t)
	if err != nil {
		return err
	}
	for start := 0; start < rows; start += RowsPerGroup {
		if err := n.batch(t, start, min(rows, start+RowsPerGroup)); err != nil {
			return fmt.Errorf("write rows from %d: %w", start+1, err)
		}
	}
	return n.Close()
}

func newRecordWriter(w *sink, f Format, schema *arrow.Schema) (write func(arrow.Record) error, done func() error, err error) {
	switch f {
	case ArrowFile:
		fw, err := ipc.NewFileWriter(w, ipc.WithSchema(schema))
		if err != nil {
			return nil, nil, err
		}
		return fw.Write, fw.Close, nil
	case ArrowStream:
		sw := ipc.NewWriter(w, ipc.WithSchema(schema))
		return sw.Write, sw.Close, nil
	case Parquet:
		pw, err := pqarrow.NewFileWriter(schema, w,
			parquet.NewWriterProperties(
				parquet.WithCompression(compress.Codecs.Zstd),
				parquet.WithCreatedBy(writerName),
				parquet.WithVersion(parquet.V2_6),
			),
			pqarrow.NewArrowWriterProperties(pqarrow.WithStoreSchema()))
		if err != nil {
			return nil, nil, err
		}
		return pw.Write, pw.Close, nil
	default:
		return nil, nil, fmt.Errorf("unknown format %d", f)
	}
}

// sink stands between the library and the writer: the Parquet writer panics where
// the first bytes cannot be written, so that the library never learns of an error; and
// the file writer of Arrow seeks, if only to learn how far it is.
type sink struct {
	w   io.Writer
	n   int64
	err error // the first; nothing is written after it
}

func (s *sink) Write(p []byte) (int, error) {
	if s.err == nil {
		_, s.err = s.w.Write(p)
	}
	s.n += int64(len(p))
	return len(p), nil
}

// Seek tells the position and moves nowhere.
func (s *sink) Seek(offset int64, whence int) (int64, error) {
	if whence == io.SeekCurrent && offset == 0 {
		return s.n, nil
	}
	return 0, errors.New("seek in a stream")
}

// check returns the number of rows.
func (t *OutTable) check() (int, error) {
	rows, seen := -1, map[string]bool{}
	for i := range t.Columns {
		c := &t.Columns[i]
		if seen[c.Name] {
			return 0, fmt.Errorf("%w: two columns are named %q", ErrOutTable, c.Name)
		}
		seen[c.Name] = true
		n := c.len()
		if rows < 0 {
			rows = n
		}
		if n != rows || c.Null != nil && len(c.Null) != n {
			return 0, fmt.Errorf("%w: column %q has %d cells and %d null marks, the table %d rows", ErrOutTable, c.Name, n, len(c.Null), rows)
		}
		if c.Kind != OutFloat {
			continue
		}
		for r, v := range c.Float {
			if (math.IsNaN(v) || math.IsInf(v, 0)) && (c.Null == nil || !c.Null[r]) {
				return 0, fmt.Errorf("%w: column %q holds %v in row %d", ErrOutTable, c.Name, v, r+1)
			}
		}
	}
	return max(rows, 0), nil
}

func (c *OutColumn) len() int {
	switch c.Kind {
	case OutFloat:
		return len(c.Float)
	case OutInt:
		return len(c.Int)
	case OutBool:
		return len(c.Bool)
	default:
		return len(c.Text)
	}
}

func (t *OutTable) schema() *arrow.Schema {
	types := map[OutKind]arrow.DataType{
		OutText: arrow.BinaryTypes.String, OutFloat: arrow.PrimitiveTypes.Float64,
		OutInt: arrow.PrimitiveTypes.Int64, OutBool: arrow.FixedWidthTypes.Boolean,
	}
	fields := make([]arrow.Field, len(t.Columns))
	for i := range t.Columns {
		c := &t.Columns[i]
		meta := maps.Clone(c.Meta)
		if c.Unit != "" {
			if meta == nil {
				meta = map[string]string{}
			}
			meta[unitKey] = c.Unit
		}
		fields[i] = arrow.Field{Name: c.Name, Type: types[c.Kind], Nullable: true, Metadata: sortedMeta(meta)}
	}
	meta := sortedMeta(t.Meta)
	return arrow.NewSchema(fields, &meta)
}

func sortedMeta(m map[string]string) arrow.Metadata {
	keys := slices.Sorted(maps.Keys(m))
	values := make([]string, len(keys))
	for i, k := range keys {
		values[i] = m[k]
	}
	return arrow.NewMetadata(keys, values)
}

func (t *OutTable) record(schema *arrow.Schema, from, to int) arrow.Record {
	cols := make([]arrow.Array, len(t.Columns))
	for i := range t.Columns {
		cols[i] = t.Columns[i].array(from, to)
		defer cols[i].Release()
	}
	return array.NewRecord(schema, cols, int64(to-from))
}

func (c *OutColumn) array(from, to int) arrow.Array {
	valid := c.valid(from, to)
	mem := memory.DefaultAllocator
	switch c.Kind {
	case OutFloat:
		b := array.NewFloat64Builder(mem)
		defer b.Release()
		b.AppendValues(blank(c.Float[from:to], valid), valid)
		return b.NewArray()
	case OutInt:
		b := array.NewInt64Builder(mem)
		defer b.Release()
		b.AppendValues(blank(c.Int[from:to], valid), valid)
		return b.NewArray()
	case OutBool:
		b := array.NewBooleanBuilder(mem)
		defer b.Release()
		b.AppendValues(blank(c.Bool[from:to], valid), valid)
		return b.NewArray()
	default:
		b := array.NewStringBuilder(mem)
		defer b.Release()
		b.AppendValues(blank(c.Text[from:to], valid), valid)
		return b.NewArray()
	}
}

// valid is the reverse of Null; nil where nothing is null.
func (c *OutColumn) valid(from, to int) []bool {
	if c.Null == nil {
		return nil
	}
	valid := make([]bool, to-from)
	for i, null := range c.Null[from:to] {
		valid[i] = !null
	}
	return valid
}

// blank clears what stands under a null, so that it cannot make bytes differ.
func blank[T any](cells []T, valid []bool) []T {
	if valid == nil {
		return cells
	}
	out, zero := slices.Clone(cells), *new(T)
	for i, ok := range valid {
		if !ok {
			out[i] = zero
		}
	}
	return out
}
