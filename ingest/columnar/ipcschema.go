package columnar

import (
	"strings"

	"github.com/apache/arrow/go/v17/arrow"
)

// The bounds of a schema: fields and metadata entries in all, nested ones
// included, and how deep they nest.
const (
	maxFields = 1 << 15
	maxDepth  = 32
)

// ipcField is a top-level field of a schema. The library's reader of schemas takes
// sizes from the file as they stand, so that a damaged one can ask for any amount of
// memory; this one reads through checked flatbuffers.
type ipcField struct {
	name     string
	meta     map[string]string
	dt       arrow.DataType // nil: a type that no column can have
	typeName string
	dict     bool
	id       int64 // of the dictionary
	shape    func(version int16) extent
}

func (f *ipcField) describe() described {
	return describe(f.name, f.typeName, f.dt, func(key string) (string, bool) {
		v, ok := f.meta[key]
		return v, ok
	})
}

// extent is how many field nodes, buffers and counts of view buffers a column takes
// in a record batch.
type extent struct{ nodes, buffers, variadic int }

func (e *extent) add(o extent) {
	e.nodes, e.buffers, e.variadic = e.nodes+o.nodes, e.buffers+o.buffers, e.variadic+o.variadic
}

func (f *ipcField) extent(version int16) extent { return f.shape(version) }

// The types of a field, as Schema.fbs of Arrow numbers them.
const (
	fbNull = 1 + iota
	fbInt
	fbFloat
	fbBinary
	fbUtf8
	fbBool
	fbDecimal
	fbDate
	fbTime
	fbTimestamp
	fbInterval
	fbList
	fbStruct
	fbUnion
	fbFixedBinary
	fbFixedList
	fbMap
	fbDuration
	fbLargeBinary
	fbLargeUtf8
	fbLargeList
	fbRunEnd
	fbBinaryView
	fbUtf8View
	fbListView
	fbLargeListView
)

// nestedNames are the types that no column can have.
var nestedNames = map[uint8]string{
	fbInterval: "interval", fbList: "list", fbStruct: "struct", fbUnion: "union", fbFixedBinary: "fixed_size_binary",
	fbFixedList: "fixed_size_list", fbMap: "map", fbLargeList: "large_list", fbRunEnd: "run_end_encoded",
	fbListView: "list_view", fbLargeListView: "large_list_view",
}

var errSchema = faultf(CodeCorrupt, "the schema makes no sense; the file is damaged: write it again")

// schemaReader counts what it has read against the bounds.
type schemaReader struct{ left int }

func readSchema(schema fbTable) ([]ipcField, error) {
	if schema.i16(0, 0) != 0 {
		return nil, faultf(CodeCodec, "the file is big-endian; write it again on a little-endian machine, or as Parquet")
	}
	r := &schemaReader{left: maxFields}
	return r.fields(schema, 1, 0)
}

func (r *schemaReader) fields(t fbTable, slot, depth int) ([]ipcField, error) {
	start, n, ok := t.vector(slot, 4)
	if r.left -= n; !ok || r.left < 0 || depth > maxDepth {
		return nil, errSchema
	}
	fields := make([]ipcField, n)
	for i := range fields {
		ft, ok := t.tableAt(start, i)
		if !ok {
			return nil, errSchema
		}
		var err error
		if fields[i], err = r.field(ft, depth); err != nil {
			return nil, err
		}
	}
	return fields, nil
}

func (r *schemaReader) field(t fbTable, depth int) (ipcField, error) {
	var f ipcField
	var ok bool
	if f.name, ok = t.text(0); !ok {
		return f, errSchema
	}
	var err error
	if f.meta, err = r.metadata(t, 6); err != nil {
		return f, err
	}
	children, err := r.fields(t, 5, depth+1)
	if err != nil {
		return f, err
	}
	kind := t.u8(2)
	params, _ := t.table(3) // absent parameters are all default
	if f.dt, ok = plainType(kind, params); !ok {
		return f, errSchema
	}
	f.typeName = nestedNames[kind]
	if f.dt != nil {
		f.typeName = f.dt.String()
	}
	f.shape = shapeOf(kind, params, children)
	if d, present := t.table(4); present {
		err = f.encode(d)
	}
	return f, err
}

// encode makes f dictionary-encoded: what stands in a record batch is the indices.
func (f *ipcField) encode(d fbTable) error {
	index := arrow.DataType(arrow.PrimitiveTypes.Int32)
	if params, ok := d.table(1); ok {
		if index, ok = plainType(fbInt, params); !ok {
			return errSchema
		}
	}
	f.dict, f.id = true, d.i64(0)
	f.shape = func(int16) extent { return extentOf(index) }
	f.typeName = "dictionary of " + f.typeName
	if f.dt != nil {
		f.dt = &arrow.DictionaryType{IndexType: index, ValueType: f.dt}
	}
	return nil
}

func (r *schemaReader) metadata(t fbTable, slot int) (map[string]string, error) {
	start, n, ok := t.vector(slot, 4)
	if r.left -= n; !ok || r.left < 0 {
		return nil, errSchema
	}
	meta := make(map[string]string, n)
	for i := range n {
		kv, ok := t.tableAt(start, i)
		if !ok {
			return nil, errSchema
		}
		key, ok := kv.text(0)
		if !ok {
			return nil, errSchema
		}
		// Values may be large, and only ours matter.
		if key != unitKey && key != extensionKey {
			continue
		}
		if meta[key], ok = kv.text(1); !ok {
			return nil, errSchema
		}
	}
	return meta, nil
}

// plainType returns the type of a column of plain values; nil for the types that no
// column can have, and false where the schema makes no sense.
func plainType(kind uint8, p fbTable) (arrow.DataType, bool) {
	unit := func(slot int, absent int16) (arrow.TimeUnit, bool) {
		u := p.i16(slot, absent)
		return arrow.TimeUnit(u), u >= 0 && u <= int16(arrow.Nanosecond)
	}
	switch kind {
	case fbNull:
		return arrow.Null, true
	case fbInt:
		return intType(p.i32(0, 0), p.u8(1) != 0)
	case fbFloat:
		types := []arrow.DataType{arrow.FixedWidthTypes.Float16, arrow.PrimitiveTypes.Float32, arrow.PrimitiveTypes.Float64}
		i := p.i16(0, 0)
		if i < 0 || int(i) >= len(types) {
			return nil, false
		}
		return types[i], true
	case fbBinary:
		return arrow.BinaryTypes.Binary, true
	case fbUtf8:
		return arrow.BinaryTypes.String, true
	case fbLargeBinary:
		return arrow.BinaryTypes.LargeBinary, true
	case fbLargeUtf8:
		return arrow.BinaryTypes.LargeString, true
	case fbBinaryView:
		return arrow.BinaryTypes.BinaryView, true
	case fbUtf8View:
		return arrow.BinaryTypes.StringView, true
	case fbBool:
		return arrow.FixedWidthTypes.Boolean, true
	case fbDecimal:
		return decimalType(p.i32(0, 0), p.i32(1, 0), p.i32(2, 128))
	case fbDate:
		if p.i16(0, 1) == 0 {
			return arrow.FixedWidthTypes.Date32, true
		}
		return arrow.FixedWidthTypes.Date64, true
	case fbTime:
		u, ok := unit(0, 1)
		if p.i32(1, 32) == 64 {
			return &arrow.Time64Type{Unit: u}, ok && u >= arrow.Microsecond
		}
		return &arrow.Time32Type{Unit: u}, ok && u <= arrow.Millisecond
	case fbTimestamp:
		u, ok := unit(0, 0)
		zone, zok := p.text(1)
		return &arrow.TimestampType{Unit: u, TimeZone: strings.Clone(zone)}, ok && zok
	case fbDuration:
		u, ok := unit(0, 1)
		return &arrow.DurationType{Unit: u}, ok
	default:
		_, nested := nestedNames[kind]
		return nil, nested
	}
}

func intType(bits int32, signed bool) (arrow.DataType, bool) {
	types := map[int32][2]arrow.DataType{
		8:  {arrow.PrimitiveTypes.Uint8, arrow.PrimitiveTypes.Int8},
		16: {arrow.PrimitiveTypes.Uint16, arrow.PrimitiveTypes.Int16},
		32: {arrow.PrimitiveTypes.Uint32, arrow.PrimitiveTypes.Int32},
		64: {arrow.PrimitiveTypes.Uint64, arrow.PrimitiveTypes.Int64},
	}
	pair, ok := types[bits]
	if signed {
		return pair[1], ok
	}
	return pair[0], ok
}

func decimalType(precision, scale, bits int32) (arrow.DataType, bool) {
	ok := precision >= 1 && precision <= 76 && scale >= -76 && scale <= 76
	switch bits {
	case 128:
		return &arrow.Decimal128Type{Precision: precision, Scale: scale}, ok
	case 256:
		return &arrow.Decimal256Type{Precision: precision, Scale: scale}, ok
	default:
		return nil, false
	}
}

// shapeOf follows the layout tables of the Arrow columnar format. Before version 5
// (4 in the metadata's count) a union had a validity bitmap of its own.
func shapeOf(kind uint8, params fbTable, children []ipcField) func(version int16) extent {
	return func(version int16) extent {
		e := extent{nodes: 1, buffers: 2} // validity, and values or offsets
		switch kind {
		case fbNull, fbRunEnd:
			e.buffers = 0
		case fbUtf8, fbBinary, fbLargeUtf8, fbLargeBinary, fbListView, fbLargeListView:
			e.buffers = 3
		case fbUtf8View, fbBinaryView:
			e.variadic = 1
		case fbStruct, fbFixedList:
			e.buffers = 1
		case fbUnion:
			e.buffers = 1
			if params.i16(0, 0) == 1 { // dense
				e.buffers = 2
			}
			if version < 4 {
				e.buffers++
			}
		}
		for i := range children {
			e.add(children[i].extent(version))
		}
		return e
	}
}

// extentOf is the extent of a column of plain values.
func extentOf(dt arrow.DataType) extent {
	e := extent{nodes: 1, buffers: 2}
	switch dt.(type) {
	case *arrow.NullType:
		e.buffers = 0
	case *arrow.StringType, *arrow.BinaryType, *arrow.LargeStringType, *arrow.LargeBinaryType:
		e.buffers = 3
	case *arrow.StringViewType, *arrow.BinaryViewType:
		e.variadic = 1
	}
	return e
}
