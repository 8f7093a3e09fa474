package columnar

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
)

// maxMessage bounds a message's description, in bytes; its body is not counted.
// Real files are far below.
const maxMessage = 64 << 20

// The kinds of message.
const (
	msgSchema = 1 + iota
	msgDictionary
	msgRecords
)

var ipcMagic = []byte("ARROW1")

// message is a verified Arrow IPC message: its body lies
// inside the file.
type message struct {
	kind    uint8
	version int16
	header  fbTable
	body    int64 // place of the body in the file
	bodyLen int64
}

// readMessage reads the description of the message at offset at. It returns
// io.EOF at the mark that ends a stream, and next, where the message ends.
func readMessage(r io.ReaderAt, size, at int64) (m message, next int64, err error) {
	var head [8]byte
	if at < 0 || at+4 > size {
		return m, 0, errTruncated
	}
	n, err := r.ReadAt(head[:min(8, size-at)], at)
	if err != nil && !(errors.Is(err, io.EOF) && n >= 4) {
		return m, 0, ioError{err}
	}
	word := binary.LittleEndian.Uint32(head[:4])
	prefix := int64(4) // files from before Arrow 0.15 have no continuation mark
	if word == 0xFFFFFFFF {
		if n < 8 {
			return m, 0, errTruncated
		}
		prefix, word = 8, binary.LittleEndian.Uint32(head[4:])
	}
	if word == 0 {
		return m, 0, io.EOF
	}
	if int64(word) > maxMessage {
		return m, 0, faultf(CodeCorrupt, "a message at byte %d claims a description of %d bytes; the file is damaged: write it again", at, word)
	}
	if at+prefix+int64(word) > size {
		return m, 0, errTruncated
	}
	meta := make([]byte, word)
	if _, err := r.ReadAt(meta, at+prefix); err != nil && !errors.Is(err, io.EOF) {
		return m, 0, ioError{err}
	}
	root, ok := fbRoot(meta)
	if !ok {
		return m, 0, errDamaged(at)
	}
	m.version, m.kind, m.bodyLen = root.i16(0, 0), root.u8(1), root.i64(3)
	if m.header, ok = root.table(2); !ok {
		return m, 0, errDamaged(at)
	}
	m.body = at + prefix + int64(word)
	if m.bodyLen < 0 {
		return m, 0, errDamaged(at)
	}
	if m.bodyLen > size-m.body {
		return m, 0, errTruncated
	}
	if m.version < 3 { // V4, since Arrow 0.8
		return m, 0, faultf(CodeCodec, "the file is of an Arrow format from before 2018; write it again with a current library")
	}
	return m, m.body + m.bodyLen, nil
}

var errTruncated = faultf(CodeTruncated, "the file ends before its data do; it was cut off while being written or copied: write or copy it again")

func errDamaged(at int64) *fault {
	return faultf(CodeCorrupt, "the message at byte %d makes no sense; the file is damaged: write it again", at)
}

// place is where a message of an IPC file stands.
type place struct{ at int64 }

// layout lists the messages of an IPC file or stream behind the schema, in the order in
// which they are to be read.
type layout struct {
	schema fbTable
	stream bool    // messages follow one another from start on
	start  int64   // first message behind the schema
	places []place // of a file: dictionaries, then record batches
	dicts  int     // how many of places are dictionaries
}

// readLayout reads the schema and, of a file, its footer.
func readLayout(r io.ReaderAt, size int64, stream bool) (*layout, error) {
	l := &layout{stream: stream}
	at := int64(0)
	if !stream {
		at = 8 // magic and padding
		if err := l.readFooter(r, size); err != nil {
			return nil, err
		}
	}
	m, next, err := readMessage(r, size, at)
	if errors.Is(err, io.EOF) || err == nil && m.kind != msgSchema {
		return nil, faultf(CodeCorrupt, "the file does not begin with a schema; it is damaged: write it again")
	}
	if err != nil {
		return nil, err
	}
	l.schema, l.start = m.header, next
	return l, nil
}

// readFooter lists the blocks of a file: footer, its length as 4 bytes, magic.
func (l *layout) readFooter(r io.ReaderAt, size int64) error {
	const tail = 4 + 6
	if size < 8+tail {
		return errTruncated
	}
	var end [tail]byte
	if _, err := r.ReadAt(end[:], size-tail); err != nil && !errors.Is(err, io.EOF) {
		return ioError{err}
	}
	if !bytes.Equal(end[4:], ipcMagic) {
		return errTruncated
	}
	n := int64(binary.LittleEndian.Uint32(end[:]))
	if n > maxMessage || n > size-tail-8 {
		return faultf(CodeCorrupt, "the footer claims %d bytes of a file of %d; the file is damaged: write it again", n, size)
	}
	buf := make([]byte, n)
	if _, err := r.ReadAt(buf, size-tail-n); err != nil && !errors.Is(err, io.EOF) {
		return ioError{err}
	}
	root, ok := fbRoot(buf)
	if !ok {
		return faultf(CodeCorrupt, "the footer makes no sense; the file is damaged: write it again")
	}
	for _, id := range []int{2, 3} { // dictionaries, record batches
		start, count, ok := root.vector(id, 24)
		if !ok {
			return faultf(CodeCorrupt, "the footer's list of blocks makes no sense; the file is damaged: write it again")
		}
		for i := range count {
			at := int64(binary.LittleEndian.Uint64(buf[start+24*i:]))
			if at < 8 || at >= size {
				return faultf(CodeCorrupt, "the footer names a block at byte %d of a file of %d; the file is damaged: write it again", at, size)
			}
			l.places = append(l.places, place{at})
		}
		if id == 2 {
			l.dicts = count
		}
	}
	return nil
}

// errNoEnd is what remains to be said of a stream that lacks its end mark.
var errNoEnd = &fault{Code: CodeTruncated, Mild: true, Message: "the stream has no mark at its end, so that rows may be missing; if its writer was not interrupted, nothing is"}

// each calls do with every message behind the schema.
func (l *layout) each(r io.ReaderAt, size int64, do func(i int, m message) error) error {
	if !l.stream {
		for i, p := range l.places {
			m, _, err := readMessage(r, size, p.at)
			if errors.Is(err, io.EOF) {
				err = errDamaged(p.at)
			}
			if err == nil && (m.kind == msgDictionary) != (i < l.dicts) {
				err = errDamaged(p.at)
			}
			if err != nil {
				return err
			}
			if err := do(i, m); err != nil {
				return err
			}
		}
		return nil
	}
	for i, at := 0, l.start; at < size; i++ {
		m, next, err := readMessage(r, size, at)
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if err := do(i, m); err != nil {
			return err
		}
		at = next
	}
	return errNoEnd
}
