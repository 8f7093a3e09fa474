package columnar

import "encoding/binary"

// fbTable is a table inside a flatbuffer. Arrow describes its messages as
// flatbuffers; the usual readers trust their offsets, this one checks each. What
// points outside the buffer reads as absent.
type fbTable struct {
	buf    []byte
	pos    int // of the table
	vtable int
	slots  int // fields that the vtable lists
}

// fbRoot returns the root table of a buffer.
func fbRoot(buf []byte) (fbTable, bool) {
	off, ok := fbU32(buf, 0)
	if !ok {
		return fbTable{}, false
	}
	return fbAt(buf, int64(off))
}

func fbAt(buf []byte, pos int64) (fbTable, bool) {
	if pos < 0 || pos+4 > int64(len(buf)) {
		return fbTable{}, false
	}
	back := int64(int32(binary.LittleEndian.Uint32(buf[pos:])))
	vt := pos - back
	if vt < 0 || vt+4 > int64(len(buf)) {
		return fbTable{}, false
	}
	size := int64(binary.LittleEndian.Uint16(buf[vt:]))
	if size < 4 || size%2 != 0 || vt+size > int64(len(buf)) {
		return fbTable{}, false
	}
	return fbTable{buf: buf, pos: int(pos), vtable: int(vt), slots: int(size-4) / 2}, true
}

// field returns the place of field id, if it is present with size bytes.
func (t fbTable) field(id, size int) (int, bool) {
	if id >= t.slots {
		return 0, false
	}
	off := int(binary.LittleEndian.Uint16(t.buf[t.vtable+4+2*id:]))
	if off == 0 || t.pos+off+size > len(t.buf) {
		return 0, false
	}
	return t.pos + off, true
}

func (t fbTable) u8(id int) uint8 {
	p, ok := t.field(id, 1)
	if !ok {
		return 0
	}
	return t.buf[p]
}

func (t fbTable) i16(id int, absent int16) int16 {
	p, ok := t.field(id, 2)
	if !ok {
		return absent
	}
	return int16(binary.LittleEndian.Uint16(t.buf[p:]))
}

func (t fbTable) i32(id int, absent int32) int32 {
	p, ok := t.field(id, 4)
	if !ok {
		return absent
	}
	return int32(binary.LittleEndian.Uint32(t.buf[p:]))
}

func (t fbTable) i64(id int) int64 {
	p, ok := t.field(id, 8)
	if !ok {
		return 0
	}
	return int64(binary.LittleEndian.Uint64(t.buf[p:]))
}

// table returns the table that field id points to.
func (t fbTable) table(id int) (fbTable, bool) {
	p, ok := t.field(id, 4)
	if !ok {
		return fbTable{}, false
	}
	return fbAt(t.buf, int64(p)+int64(binary.LittleEndian.Uint32(t.buf[p:])))
}

// vector returns the first byte and the number of elements of the vector at field
// id. An absent vector is empty; one that leaves the buffer is not ok.
func (t fbTable) vector(id, elem int) (start, n int, ok bool) {
	p, present := t.field(id, 4)
	if !present {
		return 0, 0, true
	}
	at := int64(p) + int64(binary.LittleEndian.Uint32(t.buf[p:]))
	if at+4 > int64(len(t.buf)) {
		return 0, 0, false
	}
	count := int64(binary.LittleEndian.Uint32(t.buf[at:]))
	if at+4+count*int64(elem) > int64(len(t.buf)) {
		return 0, 0, false
	}
	return int(at + 4), int(count), true
}

// tableAt returns element i of a vector of tables that starts at start.
func (t fbTable) tableAt(start, i int) (fbTable, bool) {
	p := start + 4*i
	return fbAt(t.buf, int64(p)+int64(binary.LittleEndian.Uint32(t.buf[p:])))
}

// text returns the string at field id, "" where it is absent.
func (t fbTable) text(id int) (string, bool) {
	start, n, ok := t.vector(id, 1)
	if !ok {
		return "", false
	}
	return string(t.buf[start : start+n]), true
}

func fbU32(buf []byte, at int) (uint32, bool) {
	if at < 0 || at+4 > len(buf) {
		return 0, false
	}
	return binary.LittleEndian.Uint32(buf[at:]), true
}
