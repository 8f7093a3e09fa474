package columnar

import (
	"encoding/binary"
	"errors"
	"io"
	"math"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"sheetwash/ingest/table"
)

// ipcFile is an opened Arrow IPC file or stream. The library decodes the cells; what
// stands where is found out here, so that a column that is not asked for is not read,
// and no length is believed before it is checked.
type ipcFile struct {
	r      io.ReaderAt
	size   int64
	layout *layout
	fields []ipcField
	cols   []described
}

func openIPC(r io.ReaderAt, size int64, stream bool) (*ipcFile, error) {
	l, err := readLayout(r, size, stream)
	if err != nil {
		return nil, err
	}
	f := &ipcFile{r: r, size: size, layout: l}
	if f.fields, err = readSchema(l.schema); err != nil {
		return nil, err
	}
	for i := range f.fields {
		f.cols = append(f.cols, f.fields[i].describe())
	}
	return f, nil
}

// records is a verified description of the columns of one message's body.
type records struct {
	rows     int64
	nodes    []byte // 16 bytes each: length, null count
	buffers  []byte // 16 bytes each: offset in the body, length
	variadic []byte // 8 bytes each
	packed   bool
	codec    uint8
	m        message
}

func readRecords(t fbTable, m message) (records, error) {
	rb := records{rows: t.i64(0), m: m}
	bad := errDamaged(m.body)
	for _, v := range []struct {
		id, elem int
		into     *[]byte
	}{{1, 16, &rb.nodes}, {2, 16, &rb.buffers}, {4, 8, &rb.variadic}} {
		start, n, ok := t.vector(v.id, v.elem)
		if !ok {
			return rb, bad
		}
		*v.into = t.buf[start : start+n*v.elem]
	}
	if rb.rows < 0 || rb.rows > math.MaxInt32*int64(64) {
		return rb, bad
	}
	if c, ok := t.table(3); ok {
		rb.packed, rb.codec = true, c.u8(0)
		if rb.codec > 1 {
			return rb, faultf(CodeCodec, "the file is compressed with codec %d of Arrow, which is not read; write it without compression, or with lz4 or zstd", rb.codec)
		}
	}
	return rb, nil
}

// stretch is a range of the file, or of memory once it has been decompressed.
type stretch struct {
	off, n int64
	data   []byte
	held   bool
}

// buffer returns buffer i.
func (rb *records) buffer(i int) (stretch, error) {
	if i < 0 || (i+1)*16 > len(rb.buffers) {
		return stretch{}, errDamaged(rb.m.body)
	}
	off := int64(binary.LittleEndian.Uint64(rb.buffers[16*i:]))
	n := int64(binary.LittleEndian.Uint64(rb.buffers[16*i+8:]))
	if off < 0 || n < 0 || off > rb.m.bodyLen || n > rb.m.bodyLen-off {
		return stretch{}, errDamaged(rb.m.body)
	}
	return stretch{off: rb.m.body + off, n: n}, nil
}

// columnAt returns the buffers of the column whose first node and buffer are at.
func (rb *records) columnAt(at extent, dt arrow.DataType, e extent) (column, error) {
	c := column{dt: dt, row: rb.rows}
	if (at.nodes+1)*16 > len(rb.nodes) || int64(binary.LittleEndian.Uint64(rb.nodes[16*at.nodes:])) != rb.rows {
		return c, errDamaged(rb.m.body)
	}
	c.nullable = binary.LittleEndian.Uint64(rb.nodes[16*at.nodes+8:]) != 0
	for i := range e.buffers + rb.views(at.variadic, e.variadic) {
		s, err := rb.buffer(at.buffers + i)
		if err != nil {
			return c, err
		}
		c.parts = append(c.parts, s)
	}
	return c, nil
}

// views returns how many data buffers n view columns from the first have in all.
func (rb *records) views(first, n int) int {
	total := 0
	for i := first; i < first+n && (i+1)*8 <= len(rb.variadic); i++ {
		total += int(min(binary.LittleEndian.Uint64(rb.variadic[8*i:]), uint64(len(rb.buffers))))
	}
	return total
}

// column is one column of a record batch, before its cells are fetched.
type column struct {
	dt       arrow.DataType
	row      int64
	nullable bool
	parts    []stretch
}

// fetch gives the cells of rows from to to of the column.
func (f *ipcFile) fetch(a *arena, c *column, d *described, dict *dictionary, from, to int64, out *cells) error {
	n := to - from
	var valid []byte
	if _, null := c.dt.(*arrow.NullType); !null && c.nullable && c.parts[0].n > 0 {
		var err error
		if valid, err = f.bytes(a, c.parts[0], from/8, (to+7)/8); err != nil {
			return err
		}
	}
	if isText(c.dt) {
		return f.fetchText(a, c, valid, from, to, out)
	}
	dt := c.dt
	if dictType, ok := dt.(*arrow.DictionaryType); ok {
		dt = dictType.IndexType
	}
	bufs := []*memory.Buffer{nil, nil}
	nulls := 0
	if valid != nil {
		bufs[0], nulls = memory.NewBufferBytes(valid), array.UnknownNullCount
	}
	switch fixed, ok := dt.(arrow.FixedWidthDataType); {
	case ok:
		width := int64(fixed.BitWidth())
		raw, err := f.bytes(a, c.parts[1], from*width/8, (to*width+7)/8)
		if err != nil {
			return err
		}
		bufs[1] = memory.NewBufferBytes(raw)
	default: // null
		bufs, nulls = bufs[:1], int(n)
	}
	data := array.NewData(dt, int(n), bufs, nil, nulls, 0)
	arr := array.MakeFromData(data)
	if err := out.fill(arr, d.zone); err != nil || dict == nil {
		return err
	}
	return dict.look(out)
}

// fetchText gives the cells of a text column, of which valid is the bitmap.
func (f *ipcFile) fetchText(a *arena, c *column, valid []byte, from, to int64, out *cells) error {
	out.Column = table.Column{}
	if valid != nil {
		null := sized(&out.null, int(to-from))
		any := false
		for i := range null {
			null[i] = valid[i>>3]&(1<<(i&7)) == 0
			any = any || null[i]
		}
		if any {
			out.Null = null
		}
	}
	if to == from {
		return text(out, []int32{0}, nil)
	}
	switch c.dt.(type) {
	case *arrow.StringType, *arrow.BinaryType:
		raw, err := f.bytes(a, c.parts[1], from*4, (to+1)*4)
		if err != nil {
			return err
		}
		offsets := arrow.Int32Traits.CastFromBytes(raw)
		data, err := f.bytes(a, c.parts[2], int64(offsets[0]), int64(offsets[to-from]))
		if err != nil {
			return err
		}
		return text(out, offsets, data)
	case *arrow.LargeStringType, *arrow.LargeBinaryType:
		raw, err := f.bytes(a, c.parts[1], from*8, (to+1)*8)
		if err != nil {
			return err
		}
		offsets := arrow.Int64Traits.CastFromBytes(raw)
		data, err := f.bytes(a, c.parts[2], offsets[0], offsets[to-from])
		if err != nil {
			return err
		}
		return text(out, offsets, data)
	default:
		return f.fetchViews(a, c, from, to, out)
	}
}

// fetchViews gives the cells of a view column: 16 bytes a cell, which hold the
// text where it is short, or a place in one of the data buffers.
func (f *ipcFile) fetchViews(a *arena, c *column, from, to int64, out *cells) error {
	raw, err := f.bytes(a, c.parts[1], from*16, to*16)
	if err != nil {
		return err
	}
	const inline = 12
	var lacking error
	out.format(int(to-from), func(b []byte, i int) []byte {
		head := raw[16*i : 16*i+16]
		n := int64(int32(binary.LittleEndian.Uint32(head)))
		if n >= 0 && n <= inline {
			return append(b, head[4:4+n]...)
		}
		part := int64(int32(binary.LittleEndian.Uint32(head[8:]))) + 2
		off := int64(int32(binary.LittleEndian.Uint32(head[12:])))
		if n < 0 || part < 2 || part >= int64(len(c.parts)) || int64(len(b))+n > math.MaxInt32 {
			lacking = errDamaged(c.parts[1].off)
			return b
		}
		start := len(b)
		b = append(b, make([]byte, n)...)
		if err := f.read(c.parts[part], off, b[start:]); err != nil {
			lacking = err
		}
		return b
	})
	if lacking != nil {
		return lacking
	}
	return out.checkText()
}

// bytes returns the bytes from to to of a stretch.
func (f *ipcFile) bytes(a *arena, s stretch, from, to int64) ([]byte, error) {
	if from < 0 || to < from || to > s.n {
		return nil, faultf(CodeCorrupt, "a column is shorter than its number of rows; the file is damaged: write it again")
	}
	if to-from > maxStretch {
		return nil, faultf(CodeTooLarge, "%d rows of a column hold %d bytes; write the file again with shorter cells", batchRows, to-from)
	}
	if s.held {
		return s.data[from:to:to], nil
	}
	buf := a.get(int(to - from))
	return buf, f.read(s, from, buf)
}

// read fills p from a stretch.
func (f *ipcFile) read(s stretch, from int64, p []byte) error {
	if from < 0 || from+int64(len(p)) > s.n {
		return faultf(CodeCorrupt, "a cell lies outside its column; the file is damaged: write it again")
	}
	if s.held {
		copy(p, s.data[from:])
		return nil
	}
	n, err := f.r.ReadAt(p, s.off+from)
	if n == len(p) {
		return nil
	}
	if errors.Is(err, io.EOF) {
		return errTruncated
	}
	return ioError{err}
}

// arena is room for the bytes of one window after another.
type arena struct {
	slots [][]byte
	next  int
}

func (a *arena) reset() { a.next = 0 }

// get returns n bytes whose start fits any number.
func (a *arena) get(n int) []byte {
	if a.next == len(a.slots) {
		a.slots = append(a.slots, nil)
	}
	s := &a.slots[a.next]
	a.next++
	if cap(*s) < n || cap(*s) < 8 {
		*s = make([]byte, max(n, 8))
	}
	return (*s)[:n]
}
