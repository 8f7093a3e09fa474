package columnar

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"

	"sheetwash/ingest/issue"
	"sheetwash/ingest/table"
)

// Keys of field metadata.
const (
	unitKey      = "unit"
	extensionKey = "ARROW:extension:name"
)

// described is what the schema says of one column.
type described struct {
	field   table.Field
	refused *fault         // why its cells cannot be had; nil: they can
	notes   []*fault       // what was assumed
	zone    *time.Location // of a timestamp with a zone that is known
}

// describe judges a field of a schema. dt is nil where typeName is all that is known.
func describe(name, typeName string, dt arrow.DataType, meta func(key string) (string, bool)) described {
	d := described{field: table.Field{Name: strings.TrimSpace(name)}}
	d.field.Unit, _ = meta(unitKey)
	note := func(code issue.Code, format string, args ...any) {
		n := faultf(code, format, args...)
		n.Column = d.field.Name
		d.notes = append(d.notes, n)
	}
	ext, extended := meta(extensionKey)
	switch {
	case extended:
		d.refused = faultf(CodeType, "the column is of the extension type %q, which has no meaning here; write it as text or as numbers", ext)
	case dt == nil || !readable(dt):
		d.refused = faultf(CodeType, "the column is of type %s; a column must hold plain numbers, text, true or false, or times: unnest it or write it as text", typeName)
	}
	if d.refused != nil {
		d.refused.Column = d.field.Name
	}
	switch dt := valueType(dt).(type) {
	case *arrow.DurationType:
		if d.field.Unit != "" && d.field.Unit != "s" {
			note(CodeUnit, "the column holds durations, which are read in seconds; its unit %q is not used", d.field.Unit)
		}
		d.field.Unit = "s"
	case *arrow.TimestampType:
		if dt.TimeZone == "" {
			break
		}
		zone, err := dt.GetZone()
		if err != nil {
			zone = time.UTC
			note(CodeZone, "the time zone %q is not known on this machine; the stamps are read in UTC", dt.TimeZone)
		}
		d.zone = zone
	case *arrow.BinaryType, *arrow.LargeBinaryType, *arrow.BinaryViewType:
		note(CodeType, "the column holds bytes that are not declared to be text; they are read as UTF-8")
	}
	return d
}

// readable reports whether the cells of a type can be had.
func readable(dt arrow.DataType) bool {
	switch dt := dt.(type) {
	case *arrow.NullType, *arrow.BooleanType,
		*arrow.Int8Type, *arrow.Int16Type, *arrow.Int32Type, *arrow.Int64Type,
		*arrow.Uint8Type, *arrow.Uint16Type, *arrow.Uint32Type, *arrow.Uint64Type,
		*arrow.Float16Type, *arrow.Float32Type, *arrow.Float64Type,
		*arrow.Decimal128Type, *arrow.Decimal256Type,
		*arrow.Date32Type, *arrow.Date64Type, *arrow.Time32Type, *arrow.Time64Type,
		*arrow.TimestampType, *arrow.DurationType:
		return true
	case *arrow.DictionaryType:
		_, nested := dt.ValueType.(*arrow.DictionaryType)
		return !nested && readable(dt.ValueType)
	default:
		return isText(dt)
	}
}

// valueType is the type of the words of a dictionary, and of anything else itself.
func valueType(dt arrow.DataType) arrow.DataType {
	if d, ok := dt.(*arrow.DictionaryType); ok {
		return d.ValueType
	}
	return dt
}

func isText(dt arrow.DataType) bool {
	switch dt.(type) {
	case *arrow.StringType, *arrow.LargeStringType, *arrow.StringViewType,
		*arrow.BinaryType, *arrow.LargeBinaryType, *arrow.BinaryViewType:
		return true
	}
	return false
}

// cells is a column of a batch, with room that is used again for the next batch.
type cells struct {
	table.Column
	null  []bool
	float []float64
	int   []int64
	bool  []bool
	codes []int32
	buf   []byte
	spans []table.Span
}

// sized returns a slice of n elements that uses the room of s again.
func sized[T any](s *[]T, n int) []T {
	if cap(*s) < n {
		*s = make([]T, n)
	}
	*s = (*s)[:n]
	return *s
}

// fill puts the cells of an array that is not text and not a dictionary into c.
func (c *cells) fill(arr arrow.Array, zone *time.Location) error {
	n := arr.Len()
	c.Column = table.Column{Null: c.nulls(arr)}
	switch a := arr.(type) {
	case *array.Float64:
		c.Kind, c.Float = table.Float, a.Float64Values()
	case *array.Float32:
		widen(&c.Column, &c.float, a.Float32Values())
	case *array.Float16:
		c.Kind, c.Float = table.Float, sized(&c.float, n)
		for i, v := range a.Values() {
			c.Float[i] = float64(v.Float32())
		}
	case *array.Int64:
		c.Kind, c.Int = table.Int, a.Int64Values()
	case *array.Int32:
		integers(c, a.Int32Values())
	case *array.Int16:
		integers(c, a.Int16Values())
	case *array.Int8:
		integers(c, a.Int8Values())
	case *array.Uint32:
		integers(c, a.Uint32Values())
	case *array.Uint16:
		integers(c, a.Uint16Values())
	case *array.Uint8:
		integers(c, a.Uint8Values())
	case *array.Uint64:
		integers(c, a.Uint64Values())
		for i, v := range a.Uint64Values() {
			if v > math.MaxInt64 && !c.IsNull(i) {
				return &fault{Code: CodeType, Row: int64(i), Value: strconv.FormatUint(v, 10), Message: "the whole number is too large to be read"}
			}
		}
	case *array.Boolean:
		c.Kind, c.Bool = table.Bool, sized(&c.bool, n)
		for i := range n {
			c.Bool[i] = a.Value(i)
		}
	case *array.Duration:
		c.Kind, c.Float = table.Float, sized(&c.float, n)
		unit := a.DataType().(*arrow.DurationType).Unit.Multiplier().Seconds()
		perSecond := math.Round(1 / unit)
		for i, v := range a.DurationValues() {
			c.Float[i] = float64(v) / perSecond
		}
	case *array.Null:
		c.format(n, func(b []byte, _ int) []byte { return b })
	default:
		write, err := writer(arr, zone)
		if err != nil {
			return err
		}
		c.format(n, write)
	}
	return nil
}

func (c *cells) nulls(arr arrow.Array) []bool {
	if arr.NullN() == 0 && arr.DataType().ID() != arrow.NULL {
		return nil
	}
	null := sized(&c.null, arr.Len())
	_, all := arr.(*array.Null) // it has no bitmap
	for i := range null {
		null[i] = all || arr.IsNull(i)
	}
	return null
}

func widen(c *table.Column, room *[]float64, values []float32) {
	c.Kind, c.Float = table.Float, sized(room, len(values))
	for i, v := range values {
		c.Float[i] = float64(v)
	}
}

func integers[T int8 | int16 | int32 | uint8 | uint16 | uint32 | uint64](c *cells, values []T) {
	c.Kind, c.Int = table.Int, sized(&c.int, len(values))
	for i, v := range values {
		c.Int[i] = int64(v)
	}
}

// format makes a text column of n cells, each written by write where it is not null.
func (c *cells) format(n int, write func(b []byte, i int) []byte) {
	c.Kind, c.Stride = table.Text, 1
	c.Spans, c.buf = sized(&c.spans, n), c.buf[:0]
	for i := range n {
		start := len(c.buf)
		if !c.IsNull(i) {
			c.buf = write(c.buf, i)
		}
		c.Spans[i] = table.Span{Start: uint32(start), End: uint32(len(c.buf))}
	}
	c.Buf = c.buf
}

// writer returns what writes a cell of a decimal or of a point in time as text:
// ISO 8601, with the offset where the column has a zone.
func writer(arr arrow.Array, zone *time.Location) (func(b []byte, i int) []byte, error) {
	switch a := arr.(type) {
	case *array.Decimal128:
		scale := a.DataType().(*arrow.Decimal128Type).Scale
		return func(b []byte, i int) []byte { return append(b, a.Value(i).ToString(scale)...) }, nil
	case *array.Decimal256:
		scale := a.DataType().(*arrow.Decimal256Type).Scale
		return func(b []byte, i int) []byte { return append(b, a.Value(i).ToString(scale)...) }, nil
	case *array.Date32:
		return func(b []byte, i int) []byte { return a.Value(i).ToTime().AppendFormat(b, time.DateOnly) }, nil
	case *array.Date64:
		return func(b []byte, i int) []byte { return a.Value(i).ToTime().AppendFormat(b, time.DateOnly) }, nil
	case *array.Time32:
		unit := a.DataType().(*arrow.Time32Type).Unit
		return func(b []byte, i int) []byte { return a.Value(i).ToTime(unit).AppendFormat(b, clockLayout) }, nil
	case *array.Time64:
		unit := a.DataType().(*arrow.Time64Type).Unit
		return func(b []byte, i int) []byte { return a.Value(i).ToTime(unit).AppendFormat(b, clockLayout) }, nil
	case *array.Timestamp:
		unit, layout := a.DataType().(*arrow.TimestampType).Unit, stampLayout
		if zone != nil {
			layout += "Z07:00"
		} else {
			zone = time.UTC
		}
		return func(b []byte, i int) []byte { return a.Value(i).ToTime(unit).In(zone).AppendFormat(b, layout) }, nil
	default:
		return nil, faultf(CodeType, "the column is of type %s, which is not read", arr.DataType())
	}
}

const (
	stampLayout = "2006-01-02T15:04:05.999999999"
	clockLayout = "15:04:05.999999999"
)

// text makes a text column of offsets, which it checks; data starts where the
// first of them points.
func text[T int32 | int64](c *cells, offsets []T, data []byte) error {
	n := len(offsets) - 1
	c.Kind, c.Stride, c.Buf = table.Text, 1, data
	c.Spans = sized(&c.spans, max(n, 0))
	if int64(len(data)) > math.MaxUint32 {
		return faultf(CodeTooLarge, "%d rows hold more than 4 GiB of text; write the file again with shorter cells", n)
	}
	for i := range c.Spans {
		from, to := offsets[i]-offsets[0], offsets[i+1]-offsets[0]
		if from < 0 || to < from || int64(to) > int64(len(data)) {
			return &fault{Code: CodeCorrupt, Row: int64(i), Message: "the place of the cell lies outside the file; the file is damaged: write it again"}
		}
		c.Spans[i] = table.Span{Start: uint32(from), End: uint32(to)}
	}
	return c.checkText()
}

// checkText checks that every cell is UTF-8.
func (c *cells) checkText() error {
	valid := utf8.Valid(c.Buf)
	for i, s := range c.Spans {
		cell := c.Buf[s.Start:s.End]
		if valid && (len(cell) == 0 || utf8.RuneStart(cell[0])) || c.IsNull(i) || utf8.Valid(cell) {
			continue
		}
		return &fault{Code: CodeText, Row: int64(i), Value: string(cell), Message: "the cell is not UTF-8; write the text columns in UTF-8"}
	}
	return nil
}

// fillText puts the cells of a text array into c.
func (c *cells) fillText(arr arrow.Array) error {
	c.Column = table.Column{Null: c.nulls(arr)}
	switch a := arr.(type) {
	case *array.String:
		return text(c, a.ValueOffsets(), []byte(a.ValueBytes()))
	case *array.LargeString:
		return text(c, a.ValueOffsets(), []byte(a.ValueBytes()))
	case *array.Binary:
		return text(c, a.ValueOffsets(), a.ValueBytes())
	case *array.LargeBinary:
		return text(c, a.ValueOffsets(), a.ValueBytes())
	default:
		return fmt.Errorf("text of type %s", arr.DataType())
	}
}

// words returns the cells of a text column as strings.
func (c *cells) words() []string {
	words := make([]string, len(c.Spans))
	for i, s := range c.Spans {
		words[i] = string(c.Buf[s.Start:s.End])
	}
	return words
}
