package table

import (
	"encoding/binary"
	"math/bits"
)

// stride is how many bytes are looked at per step; blocks are padded by as much.
const stride = 64

// Eight bytes are tested at a time. For x = word XOR eight copies of the wanted
// byte, (x & low7) + low7 | x has the high bit of a byte clear exactly where the
// byte is zero, without carries between bytes (Warren 2013, Hacker's Delight,
// section 6-1). gather moves the eight high bits, shifted to the lowest place of
// each byte, into the top byte of the product.
const (
	ones   = 0x0101010101010101
	low7   = 0x7f7f7f7f7f7f7f7f
	gather = 0x0102040810204080
)

// delimiterPositions appends the places of every delim and nl in data[:n] to
// out. data is readable, and its content without meaning, for stride bytes from
// n on.
func delimiterPositions(out []uint32, data []byte, n int, delim, nl byte) []uint32 {
	d, l := uint64(delim)*ones, uint64(nl)*ones
	for base := 0; base < n; base += stride {
		chunk := data[base : base+stride : base+stride]
		var mask uint64
		for k := 0; k < stride; k += 8 {
			w := binary.LittleEndian.Uint64(chunk[k : k+8])
			x, y := w^d, w^l
			keep := ((x & low7) + low7 | x) & ((y & low7) + low7 | y) // high bit clear: one of the two
			mask |= ((^keep >> 7 & ones) * gather >> 56) << k
		}
		if rest := n - base; rest < stride {
			mask &= 1<<rest - 1
		}
		if cap(out)-len(out) < stride {
			out = append(out, make([]uint32, len(out)+stride)...)[:len(out)]
		}
		room := out[len(out) : len(out)+stride]
		count := bits.OnesCount64(mask)
		for i := 0; i < count; i++ {
			room[i&(stride-1)] = uint32(base + bits.TrailingZeros64(mask))
			mask &= mask - 1
		}
		out = out[:len(out)+count]
	}
	return out
}

// regular reports whether the positions belong to records of exactly columns
// cells: as many as records times columns, each last one a line end. The number
// of line ends being that of the records, all others are delimiters.
func regular(pos []uint32, data []byte, records, columns int, nl byte) bool {
	if len(pos) != records*columns {
		return false
	}
	for i := columns - 1; i < len(pos); i += columns {
		if data[pos[i]] != nl {
			return false
		}
	}
	return true
}

// cut turns the positions of regular records into the spans of the wanted
// columns. It returns false if a record has nothing but blanks in it, which
// the careful way has to leave out.
func cut(spans []Span, pos []uint32, data []byte, columns int, want []int, delim byte) ([]Span, bool) {
	start := uint32(0) // of the record
	need := len(pos) / columns * len(want)
	if cap(spans) < need {
		spans = make([]Span, need+need/8)
	}
	spans = spans[:need]
	at := 0
	for k := 0; k+columns <= len(pos); k += columns {
		rec := pos[k : k+columns : k+columns]
		end := rec[columns-1]
		if c := data[start]; (c <= ' ' || c == delim) && isBlankRecord(data[start:end], delim) {
			return spans, false
		}
		stop := end
		if stop > start && data[stop-1] == '\r' {
			stop--
		}
		row := spans[at : at+len(want) : at+len(want)]
		for w, c := range want {
			s, e := start, rec[c]
			if c > 0 {
				s = rec[c-1] + 1
			}
			if c == columns-1 {
				e = max(s, stop)
			}
			row[w] = Span{s, e}
		}
		at += len(want)
		start = end + 1
	}
	return spans, true
}

func isBlankRecord(rec []byte, delim byte) bool {
	for _, c := range rec {
		if c != ' ' && c != '\t' && c != '\r' && c != delim {
			return false
		}
	}
	return true
}
