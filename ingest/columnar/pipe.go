package columnar

import (
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"unsafe"

	"sheetwash/ingest/table"
)

// What the child says stands in frames: kind, 3 bytes of nothing, length, payload.
// Numbers are in the order of the machine, which is the same on both ends, and
// every array starts at a multiple of 8.
const (
	frameHello = 'H' // JSON of hello
	frameWords = 'W' // field (4 bytes), then words
	frameBatch = 'B' // rows, first row, one column per wanted field
	frameFault = 'F' // JSON of fault
	frameEnd   = 'E' // nothing: the rows are complete
)

const (
	frameHead = 8
	maxFrame  = 1 << 30
)

// hello is what the child says of a file's header.
type hello struct {
	Fields []helloField
	Rows   int64
}

type helloField struct {
	Field   table.Field
	Refused *fault
	Notes   []*fault
}

func writeFrame(w io.Writer, kind byte, parts ...[]byte) error {
	n := 0
	for _, p := range parts {
		n += len(p)
	}
	if n > maxFrame {
		return faultf(CodeTooLarge, "%d rows take %d bytes; write the file again with shorter cells", batchRows, n)
	}
	head := [frameHead]byte{kind}
	binary.NativeEndian.PutUint32(head[4:], uint32(n))
	if _, err := w.Write(head[:]); err != nil {
		return err
	}
	for _, p := range parts {
		if _, err := w.Write(p); err != nil {
			return err
		}
	}
	return nil
}

// readFrame reads a frame into buf's room.
func readFrame(r io.Reader, buf []byte) (kind byte, payload []byte, err error) {
	var head [frameHead]byte
	if _, err := io.ReadFull(r, head[:]); err != nil {
		return 0, nil, err
	}
	n := binary.NativeEndian.Uint32(head[4:])
	if n > maxFrame {
		return 0, nil, errPipe
	}
	// Grown as bytes arrive: a length alone takes no memory.
	buf = buf[:0]
	for len(buf) < int(n) {
		step := min(int(n)-len(buf), max(1<<20, len(buf)))
		if cap(buf)-len(buf) < step {
			grown := make([]byte, len(buf), len(buf)+step)
			copy(grown, buf)
			buf = grown
		}
		if _, err := io.ReadFull(r, buf[len(buf):len(buf)+step]); err != nil {
			return 0, nil, err
		}
		buf = buf[:len(buf)+step]
	}
	return head[0], buf, nil
}

// errPipe says that the child's bytes make no sense.
var errPipe = errors.New("the decoder's answer makes no sense")

func writeJSON(w io.Writer, kind byte, v any) error {
	b, err := json.Marshal(v)
	if err != nil {
		return fmt.Errorf("encode frame: %w", err)
	}
	return writeFrame(w, kind, b)
}

func pad(b []byte) []byte {
	for len(b)%8 != 0 {
		b = append(b, 0)
	}
	return b
}

// appendColumn writes the cells of a column: kind, null flag, width, nothing, and
// the number of bytes of text; then the null flags, then the values.
func appendColumn(b []byte, n int, c *table.Column) []byte {
	head := len(b)
	b = append(b, byte(c.Kind), 0, 0, 0, 0, 0, 0, 0)
	if c.Null != nil {
		b[head+1] = 1
		b = pad(append(b, flags(c.Null)...))
	}
	width := 8
	switch c.Kind {
	case table.Float:
		b = append(b, raw(c.Float)...)
	case table.Int:
		b = append(b, raw(c.Int)...)
	case table.Bool:
		b = append(b, flags(c.Bool)...)
	case table.Dict:
		b, width = appendCodes(b, c)
	default:
		total := 0
		for i := range n {
			s := c.Spans[i]
			b = binary.NativeEndian.AppendUint32(b, s.End-s.Start)
			total += int(s.End - s.Start)
		}
		for i := range n {
			b = append(b, c.Bytes(i)...)
		}
		binary.NativeEndian.PutUint32(b[head+4:], uint32(total))
	}
	b[head+2] = byte(width)
	return pad(b)
}

// appendCodes writes codes in as few bytes as their dictionary needs.
func appendCodes(b []byte, c *table.Column) ([]byte, int) {
	switch {
	case len(c.Words) <= math.MaxUint8+1:
		at := len(b)
		b = append(b, make([]byte, len(c.Codes))...)
		for i, code := range c.Codes {
			b[at+i] = byte(code)
		}
		return b, 1
	case len(c.Words) <= math.MaxUint16+1:
		at := len(b)
		b = append(b, make([]byte, 2*len(c.Codes))...)
		for i, code := range c.Codes {
			binary.NativeEndian.PutUint16(b[at+2*i:], uint16(code))
		}
		return b, 2
	default:
		return append(b, raw(c.Codes)...), 4
	}
}

// raw shows numbers as the bytes they are made of.
func raw[T float64 | int64 | int32](v []T) []byte {
	if len(v) == 0 {
		return nil
	}
	return unsafe.Slice((*byte)(unsafe.Pointer(&v[0])), len(v)*int(unsafe.Sizeof(v[0])))
}

// flags shows booleans as bytes, 0 or 1.
func flags(v []bool) []byte {
	if len(v) == 0 {
		return nil
	}
	return unsafe.Slice((*byte)(unsafe.Pointer(&v[0])), len(v))
}

// cursor walks a payload. Once it has run past the end everything is empty and bad
// is true.
type cursor struct {
	b   []byte
	at  int
	bad bool
}

// take returns the next n bytes and moves on to a multiple of 8.
func (c *cursor) take(n int) []byte {
	if c.bad || n < 0 || n > len(c.b)-c.at {
		c.bad = true
		return nil
	}
	p := c.b[c.at : c.at+n : c.at+n]
	c.at = min((c.at+n+7)&^7, len(c.b))
	return p
}

// numbers shows the next n numbers; the payload starts at a multiple of 8.
func numbers[T float64 | int64 | int32 | uint16 | uint32](c *cursor, n int) []T {
	var zero T
	size := int(unsafe.Sizeof(zero))
	if n > len(c.b)/size { // before the product can overflow
		c.bad = true
	}
	p := c.take(n * size)
	if len(p) == 0 || c.bad {
		return nil
	}
	if uintptr(unsafe.Pointer(&p[0]))%unsafe.Alignof(zero) != 0 {
		c.bad = true
		return nil
	}
	return unsafe.Slice((*T)(unsafe.Pointer(&p[0])), n)
}

// readFlags copies n booleans, which must be 0 or 1.
func readFlags(c *cursor, room *[]bool, n int) []bool {
	p := c.take(n)
	if c.bad {
		return nil
	}
	out := sized(room, n)
	for i, v := range p {
		if v > 1 {
			c.bad = true
			return nil
		}
		out[i] = v == 1
	}
	return out
}

// readColumn takes the next column of n rows off the payload.
func (out *cells) readColumn(c *cursor, n int, words []string) {
	out.Column = table.Column{}
	head := c.take(8)
	if c.bad {
		return
	}
	out.Kind = table.Kind(head[0])
	if head[1] != 0 {
		out.Null = readFlags(c, &out.null, n)
	}
	switch out.Kind {
	case table.Float:
		out.Float = numbers[float64](c, n)
	case table.Int:
		out.Int = numbers[int64](c, n)
	case table.Bool:
		out.Bool = readFlags(c, &out.bool, n)
	case table.Dict:
		out.readCodes(c, n, int(head[2]), words)
	case table.Text:
		out.readText(c, n, int(binary.NativeEndian.Uint32(head[4:])))
	default:
		c.bad = true
	}
}

func (out *cells) readCodes(c *cursor, n, width int, words []string) {
	out.Words, out.Codes = words, sized(&out.codes, n)
	switch width {
	case 1:
		for i, v := range c.take(n) {
			out.Codes[i] = int32(v)
		}
	case 2:
		for i, v := range numbers[uint16](c, n) {
			out.Codes[i] = int32(v)
		}
	case 4:
		copy(out.Codes, numbers[int32](c, n))
	default:
		c.bad = true
	}
	if c.bad {
		return
	}
	for _, code := range out.Codes {
		if uint32(code) >= uint32(len(words)) {
			c.bad = true
			return
		}
	}
}

func (out *cells) readText(c *cursor, n, total int) {
	at := c.at
	p := c.take(4*n + total)
	if c.bad {
		return
	}
	lengths := numbers[uint32](&cursor{b: c.b[at : at+4*n]}, n)
	out.Stride, out.Buf = 1, p[4*n:]
	out.Spans = sized(&out.spans, n)
	end := uint64(0)
	for i, l := range lengths {
		start := end
		if end += uint64(l); end > uint64(total) {
			c.bad = true
			return
		}
		out.Spans[i] = table.Span{Start: uint32(start), End: uint32(end)}
	}
}

// appendWords writes words: their number, their lengths, their bytes.
func appendWords(b []byte, words []string) []byte {
	b = binary.NativeEndian.AppendUint32(b, uint32(len(words)))
	for _, w := range words {
		b = binary.NativeEndian.AppendUint32(b, uint32(len(w)))
	}
	for _, w := range words {
		b = append(b, w...)
	}
	return b
}

func readWords(p []byte) ([]string, error) {
	if len(p) < 4 {
		return nil, errPipe
	}
	n, p := int(binary.NativeEndian.Uint32(p)), p[4:]
	if n > len(p)/4 {
		return nil, errPipe
	}
	lengths, p := p[:4*n], p[4*n:]
	words := make([]string, n)
	for i := range words {
		l := int(binary.NativeEndian.Uint32(lengths[4*i:]))
		if l > len(p) {
			return nil, errPipe
		}
		words[i], p = string(p[:l]), p[l:]
	}
	return words, nil
}
