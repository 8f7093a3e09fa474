package table

import (
	"encoding/binary"
	"math/bits"
)

// quoteMask returns one bit for each byte of c: whether it is a quote.
func quoteMask(c *[stride]byte) uint64 {
	const q = '"' * ones
	var mask uint64
	for k := 0; k < stride; k += 8 {
		x := binary.LittleEndian.Uint64(c[k:k+8]) ^ q
		mask |= ((^((x & low7) + low7 | x) >> 7 & ones) * gather >> 56) << k
	}
	return mask
}

// byteMask returns one bit for each byte of c: whether it is one of the two
// that d and l are copies of.
func byteMask(c *[stride]byte, d, l uint64) uint64 {
	return marks(c, 0, d, l) | marks(c, 8, d, l)<<8 | marks(c, 16, d, l)<<16 | marks(c, 24, d, l)<<24 |
		marks(c, 32, d, l)<<32 | marks(c, 40, d, l)<<40 | marks(c, 48, d, l)<<48 | marks(c, 56, d, l)<<56
}

// insideMask turns a mask of quotes into one of the bytes from each opening quote
// up to its closing one: bit i is the parity of the bits up to i. before is all
// ones where the stretch before ended inside quotes.
func insideMask(quotes, before uint64) uint64 {
	quotes ^= quotes << 1
	quotes ^= quotes << 2
	quotes ^= quotes << 4
	quotes ^= quotes << 8
	quotes ^= quotes << 16
	quotes ^= quotes << 32
	return quotes ^ before
}

// parityBoundary finds the last record boundary by counting quotes. It is right
// where every quote that opens stands behind a delimiter, a line end or another
// quote (of a doubled pair); ok is false where one does not, and then the quotes
// have to be followed one by one. data is readable for stride bytes from n on.
func parityBoundary(data []byte, n int, delim, nl byte) (out records, ok bool) {
	d, l := uint64(delim)*ones, uint64(nl)*ones
	out.quotes = true
	inside, edge := uint64(0), uint64(1) // edge: the byte before may stand before an opening quote
	for base := 0; base < n; base += stride {
		c := (*[stride]byte)(data[base:])
		quotes, ends := quoteMask(c), byteMask(c, l, l)
		either := ends
		if delim != nl {
			either = byteMask(c, d, l)
		}
		if rest := n - base; rest < stride {
			keep := uint64(1)<<rest - 1
			quotes, ends, either = quotes&keep, ends&keep, either&keep
		}
		in := insideMask(quotes, inside)
		if quotes&in&^((either|quotes)<<1|edge) != 0 {
			return out, false
		}
		if outside := ends &^ in; outside != 0 {
			out.count += bits.OnesCount64(outside)
			out.end = base + bits.Len64(outside)
		}
		inside = -(in >> 63)
		edge = (either | quotes) >> 63
	}
	return out, true
}

// quotedPositions appends the places of every delim and nl outside quotes to out
// and counts the quotes; data as in delimiterPositions.
func quotedPositions(out []uint32, data []byte, n int, delim, nl byte) (pos []uint32, quotes int) {
	d, l := uint64(delim)*ones, uint64(nl)*ones
	inside := uint64(0)
	for base := 0; base < n; base += stride {
		c := (*[stride]byte)(data[base:])
		q, mask := quoteMask(c), byteMask(c, d, l)
		if rest := n - base; rest < stride {
			q, mask = q&(1<<rest-1), mask&(1<<rest-1)
		}
		quotes += bits.OnesCount64(q)
		in := insideMask(q, inside)
		inside = -(in >> 63)
		out = appendPlaces(out, mask&^in, base)
	}
	return out, quotes
}

// cutQuoted is cut for records with quoted cells. It takes the quotes off; it
// returns false as well if a cell holds quotes other than the two around it, of
// which there are as many in all as were counted.
func cutQuoted(spans []Span, pos []uint32, data []byte, columns, quotes int) ([]Span, bool) {
	if cap(spans) < len(pos) {
		spans = make([]Span, len(pos)+len(pos)/8)
	}
	spans = spans[:len(pos)]
	start := uint32(0)
	for k := 0; k+columns <= len(pos); k += columns {
		rec := pos[k : k+columns : k+columns]
		row := spans[k : k+columns : k+columns]
		for c, e := range rec {
			s := Span{start, e}
			start = e + 1
			if c == columns-1 && s.End > s.Start && data[s.End-1] == '\r' {
				s.End--
			}
			if data[s.Start] == '"' {
				if s.End-s.Start < 2 || data[s.End-1] != '"' {
					return spans, false
				}
				s.Start++
				s.End--
				quotes -= 2
			}
			row[c] = s
		}
		if s := row[0]; s.Start == s.End || data[s.Start] <= ' ' {
			if blankCells(row, data) {
				return spans, false
			}
		}
	}
	return spans, quotes == 0
}

func blankCells(row []Span, data []byte) bool {
	for _, s := range row {
		if !isBlankRecord(data[s.Start:s.End], ' ') {
			return false
		}
	}
	return true
}
