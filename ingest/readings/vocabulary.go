package readings

import (
	"bytes"
	"encoding/binary"
	"hash/maphash"
	"strconv"
	"strings"

	"sheetwash/ingest/mapping"
	"sheetwash/ingest/table"
)

// maxWords is how many texts a worker keeps of one column before it forgets
// them all: it bounds memory where every cell is different.
const maxWords = 1 << 17

// vocabulary gives each text of one column a small number. Texts that mean the
// same after trimming and translation have the same number; 0 means no value.
type vocabulary struct {
	binding *mapping.Binding
	texts   []string // by number
	numbers map[string]int32
	raw     []rawWord // open addressing by the bytes as found
	used    int
	seed    maphash.Seed
	scratch []byte
	codes   []int32 // per batch: number of each word of a dictionary column; -1: not looked at
}

// rawWord is a text as found. Up to sixteen bytes are compared as two words.
type rawWord struct {
	lo, hi uint64
	text   string
	size   int32
	number int32 // + 1; 0: free
}

func newVocabulary(b *mapping.Binding) *vocabulary {
	v := &vocabulary{binding: b, seed: maphash.MakeSeed()}
	v.forget()
	return v
}

// forget starts anew.
func (v *vocabulary) forget() {
	v.texts = append(v.texts[:0], "")
	v.numbers = map[string]int32{"": 0}
	v.raw = make([]rawWord, 256)
	v.used = 0
}

// full reports whether the vocabulary should be forgotten before the next batch.
func (v *vocabulary) full() bool { return v.used > maxWords }

// resolve returns the number of a text by what it means.
func (v *vocabulary) resolve(raw []byte) int32 {
	text := strings.ToValidUTF8(string(bytes.TrimSpace(raw)), "\uFFFD")
	if v.binding != nil {
		if _, ok := v.binding.Missing[text]; ok {
			return 0
		}
		if ours, ok := v.binding.Translate[text]; ok {
			text = ours
		}
	}
	n, ok := v.numbers[text]
	if !ok {
		n = int32(len(v.texts))
		v.texts = append(v.texts, text)
		v.numbers[text] = n
	}
	return n
}

// words16 returns up to sixteen bytes as two words. room is what may be read
// from the start of the text on.
func words16(n int, room []byte) (lo, hi uint64) {
	if len(room) < 16 {
		return words16Short(room[:n])
	}
	lo, hi = binary.LittleEndian.Uint64(room), binary.LittleEndian.Uint64(room[8:16])
	return lo & (1<<(8*min(n, 8)) - 1), hi & (1<<(8*max(n-8, 0)) - 1)
}

func words16Short(text []byte) (lo, hi uint64) {
	var b [16]byte
	copy(b[:], text)
	return binary.LittleEndian.Uint64(b[:]), binary.LittleEndian.Uint64(b[8:])
}

// number returns the number of a text. room is the text and what follows it.
func (v *vocabulary) number(text, room []byte) int32 {
	if len(text) == 0 {
		return 0
	}
	var lo, hi uint64
	if len(text) <= 16 {
		lo, hi = words16(len(text), room)
	} else {
		lo, hi = maphash.Bytes(v.seed, text), 0
	}
	mask := uint64(len(v.raw) - 1)
	h := (lo ^ (hi<<7 | hi>>57) ^ uint64(len(text))<<59) * scatter
	h ^= h >> 32
	for i := h & mask; ; i = (i + 1) & mask {
		w := &v.raw[i]
		if w.number == 0 {
			return v.add(i, lo, hi, text)
		}
		if w.lo == lo && w.hi == hi && int(w.size) == len(text) && (len(text) <= 16 || w.text == string(text)) {
			return w.number - 1
		}
	}
}

// add keeps a new text at a free place.
func (v *vocabulary) add(at, lo, hi uint64, text []byte) int32 {
	n := v.resolve(text)
	v.raw[at] = rawWord{lo: lo, hi: hi, text: string(text), size: int32(len(text)), number: n + 1}
	v.used++
	if 2*v.used > len(v.raw) {
		old := v.raw
		v.raw = make([]rawWord, 2*len(old))
		mask := uint64(len(v.raw) - 1)
		for _, w := range old {
			if w.number == 0 {
				continue
			}
			h := (w.lo ^ (w.hi<<7 | w.hi>>57) ^ uint64(w.size)<<59) * scatter
			h ^= h >> 32
			i := h & mask
			for v.raw[i].number != 0 {
				i = (i + 1) & mask
			}
			v.raw[i] = w
		}
	}
	return n
}

// column fills out with the numbers of the cells of a batch from row from on.
func (v *vocabulary) column(out []int32, b *table.Batch, from int) {
	switch {
	case v.binding == nil:
		clear(out)
	case v.binding.Source >= 0:
		v.cells(out, &b.Cols[v.binding.Source], from)
	case len(v.binding.Compose) > 0:
		for i := range out {
			v.scratch = v.scratch[:0]
			for _, p := range v.binding.Compose {
				if p.Field < 0 {
					v.scratch = append(v.scratch, p.Literal...)
				} else {
					v.scratch = append(v.scratch, bytes.TrimSpace(appendCell(nil, &b.Cols[p.Field], from+i))...)
				}
			}
			out[i] = v.number(v.scratch, v.scratch)
		}
	default:
		n := v.resolve([]byte(v.binding.Constant))
		for i := range out {
			out[i] = n
		}
	}
}

func (v *vocabulary) cells(out []int32, c *table.Column, from int) {
	switch c.Kind {
	case table.Text:
		v.text(out, c, from)
	case table.Dict:
		v.dictionary(out, c, from)
	default:
		for i := range out {
			v.scratch = appendCell(v.scratch[:0], c, from+i)
			out[i] = v.number(v.scratch, v.scratch)
		}
	}
}

// text numbers the cells of a text column. Loggers repeat themselves: the cell
// above is tried first.
func (v *vocabulary) text(out []int32, c *table.Column, from int) {
	var lo, hi uint64 // of the cell above
	size, last := 0, int32(0)
	at := from*c.Stride + c.Base
	for i := range out {
		s := c.Spans[at]
		at += c.Stride
		room := c.Buf[s.Start:]
		n := int(s.End - s.Start)
		if n > 16 {
			out[i], size = v.number(room[:n], room), -1
			continue
		}
		l, h := words16(n, room)
		if l != lo || h != hi || n != size {
			last = v.number(room[:n], room)
			lo, hi, size = l, h, n
		}
		out[i] = last
	}
}

// dictionary numbers the cells of a dictionary column, each word once per batch.
func (v *vocabulary) dictionary(out []int32, c *table.Column, from int) {
	if from == 0 {
		v.codes = v.codes[:0]
		for range c.Words {
			v.codes = append(v.codes, -1)
		}
	}
	for i := range out {
		if c.IsNull(from + i) {
			out[i] = 0
			continue
		}
		code := c.Codes[from+i]
		n := v.codes[code]
		if n < 0 {
			v.scratch = append(v.scratch[:0], c.Words[code]...)
			n = v.number(v.scratch, v.scratch)
			v.codes[code] = n
		}
		out[i] = n
	}
}

// appendCell appends the text of a cell of any kind; nothing for a null.
func appendCell(dst []byte, c *table.Column, i int) []byte {
	if c.IsNull(i) {
		return dst
	}
	switch c.Kind {
	case table.Text:
		return append(dst, c.Bytes(i)...)
	case table.Dict:
		return append(dst, c.Words[c.Codes[i]]...)
	case table.Float:
		return strconv.AppendFloat(dst, c.Float[i], 'g', -1, 64)
	case table.Int:
		return strconv.AppendInt(dst, c.Int[i], 10)
	default:
		return strconv.AppendBool(dst, c.Bool[i])
	}
}
