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
		mask := byteMask((*[stride]byte)(data[base:]), d, l)
		if rest := n - base; rest < stride {
			mask &= 1<<rest - 1
		}
		out = appendPlaces(out, mask, base)
	}
	return out
}

// appendPlaces appends base plus the place of each bit of the mask, four at a
// time: the last ones may be for nothing, which costs less than to foresee how
// many there are.
func appendPlaces(out []uint32, mask uint64, base int) []uint32 {
	if cap(out)-len(out) < stride {
		out = append(out, make([]uint32, len(out)+stride)...)[:len(out)]
	}
	room := (*[stride]uint32)(out[len(out) : len(out)+stride])
	count := bits.OnesCount64(mask)
	for i := 0; i < count; i += 4 {
		r := (*[4]uint32)(room[i&(stride-4):])
		r[0] = uint32(base + bits.TrailingZeros64(mask))
		mask &= mask - 1
		r[1] = uint32(base + bits.TrailingZeros64(mask))
		mask &= mask - 1
		r[2] = uint32(base + bits.TrailingZeros64(mask))
		mask &= mask - 1
		r[3] = uint32(base + bits.TrailingZeros64(mask))
		mask &= mask - 1
	}
	return out[:len(out)+count]
}

// marks returns one bit for each of the eight bytes from at on: whether it is
// one of the two that d and l are copies of.
func marks(c *[stride]byte, at int, d, l uint64) uint64 {
	w := binary.LittleEndian.Uint64(c[at : at+8])
	x, y := w^d, w^l
	keep := ((x & low7) + low7 | x) & ((y & low7) + low7 | y) // high bit clear: one of the two
	return (^keep >> 7 & ones) * gather >> 56
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

// cut turns the positions of regular records into spans, one per column. It
// returns false if a record has nothing but blanks in it, which the careful way
// has to leave out.
func cut(spans []Span, pos []uint32, data []byte, columns int, delim byte) ([]Span, bool) {
	if cap(spans) < len(pos) {
		spans = make([]Span, len(pos)+len(pos)/8)
	}
	spans = spans[:len(pos)]
	start := uint32(0)
	for k := 0; k+columns <= len(pos); k += columns {
		rec := pos[k : k+columns : k+columns]
		end := rec[columns-1]
		if c := data[start]; (c <= ' ' || c == delim) && isBlankRecord(data[start:end], delim) {
			return spans, false
		}
		row := spans[k : k+columns : k+columns]
		for c, e := range rec {
			row[c] = Span{start, e}
			start = e + 1
		}
		if last := &row[columns-1]; last.End > last.Start && data[last.End-1] == '\r' {
			last.End--
		}
	}
	return spans, true
}

// cutWanted is cut for some of the columns only, one span for each of them.
func cutWanted(spans []Span, pos []uint32, data []byte, columns int, want []int, delim byte) ([]Span, bool) {
	need := len(pos) / columns * len(want)
	if cap(spans) < need {
		spans = make([]Span, need+need/8)
	}
	spans = spans[:0]
	start := uint32(0)
	for k := 0; k+columns <= len(pos); k += columns {
		rec := pos[k : k+columns : k+columns]
		end := rec[columns-1]
		if c := data[start]; (c <= ' ' || c == delim) && isBlankRecord(data[start:end], delim) {
			return spans, false
		}
		for _, c := range want {
			s := Span{start, rec[c]}
			if c > 0 {
				s.Start = rec[c-1] + 1
			}
			if c == columns-1 && s.End > s.Start && data[s.End-1] == '\r' {
				s.End--
			}
			spans = append(spans, s)
		}
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
