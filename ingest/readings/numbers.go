package readings

import (
	"bytes"
	"math"
	"strings"

	"sheetwash/analysis/quantity"
	"sheetwash/ingest/mapping"
	"sheetwash/ingest/table"
)

// state is what a cell of numbers turned out to be.
type state uint8

const (
	absent    state = iota // empty, null or a missing word
	present                // a number in the column's unit
	inMinutes              // a time that is converted already
	faulty                 // reported
)

// special holds the cells of a numeric column that are not what they look like.
type special struct {
	binding *mapping.Binding
	numbers []float64 // missing words that are numbers, such as -99
	slow    bool      // every cell has to be looked up
}

func newSpecial(b *mapping.Binding, decimalComma bool) special {
	s := special{binding: b, slow: len(b.Translate) > 0}
	for word := range b.Missing {
		for _, comma := range []bool{false, decimalComma} {
			if v, fault := table.ParseFloat([]byte(word), comma); fault == table.NumberOK {
				s.numbers = append(s.numbers, v)
				break
			}
		}
	}
	return s
}

// missing reports whether a number stands for a missing value.
func (s *special) missing(v float64) bool {
	for _, m := range s.numbers {
		if v == m {
			return true
		}
	}
	return false
}

// text returns what a cell's text means: trimmed and translated; false: missing.
func (s *special) text(cell []byte) (string, bool) {
	text := string(bytes.TrimSpace(cell))
	if _, ok := s.binding.Missing[text]; ok || text == "" {
		return "", false
	}
	if ours, ok := s.binding.Translate[text]; ok {
		return ours, ours != ""
	}
	return text, true
}

// oddCell says what a cell is that is no plain number; i counts from the first
// row that is being read.
type oddCell func(i int, text string, fault table.NumberFault) (float64, state)

// column reads a numeric column of a batch into out and states, from row from
// on. Cells that are no number are handed to odd with their text.
func (s *special) column(out []float64, states []state, b *table.Batch, from int, comma bool, odd oddCell) {
	if s.binding.Source < 0 {
		s.constant(out, states, odd)
		return
	}
	c := &b.Cols[s.binding.Source]
	switch c.Kind {
	case table.Text:
		s.cells(out, states, c, from, comma, odd)
	case table.Float:
		for i := range out {
			out[i], states[i] = s.typed(c, from+i, c.Float[from+i], i, odd)
		}
	case table.Int:
		for i := range out {
			out[i], states[i] = s.typed(c, from+i, float64(c.Int[from+i]), i, odd)
		}
	default:
		var scratch []byte
		for i := range out {
			scratch = appendCell(scratch[:0], c, from+i)
			out[i], states[i] = s.cell(i, scratch, comma, odd)
		}
	}
}

// constant fills a column whose cells are all the same text.
func (s *special) constant(out []float64, states []state, odd oddCell) {
	text, ok := s.text([]byte(s.binding.Constant))
	v, fault := table.ParseFloat([]byte(text), false)
	for i := range out {
		switch {
		case !ok:
			out[i], states[i] = 0, absent
		case fault == table.NumberOK:
			out[i], states[i] = v, present
		default:
			out[i], states[i] = odd(i, text, fault)
		}
	}
}

func (s *special) cells(out []float64, states []state, c *table.Column, from int, comma bool, odd oddCell) {
	quick := !s.slow && len(s.numbers) == 0
	at := from*c.Stride + c.Base
	for i := range out {
		span := c.Spans[at]
		at += c.Stride
		cell := c.Buf[span.Start:span.End]
		if len(cell) == 0 {
			out[i], states[i] = 0, absent
			continue
		}
		if quick {
			if v, fault := table.ParseFloat(cell, comma); fault == table.NumberOK {
				out[i], states[i] = v, present
				continue
			}
		}
		out[i], states[i] = s.cell(i, cell, comma, odd)
	}
}

// cell reads one text cell with everything that it may be.
func (s *special) cell(i int, cell []byte, comma bool, odd oddCell) (float64, state) {
	v, fault := table.ParseFloat(cell, comma)
	if fault == table.NumberEmpty {
		return 0, absent
	}
	if fault == table.NumberOK && !s.slow {
		if s.missing(v) {
			return 0, absent
		}
		return v, present
	}
	text, ok := s.text(cell)
	if !ok || fault == table.NumberOK && s.missing(v) {
		return 0, absent
	}
	if v, fault = table.ParseFloat([]byte(text), comma); fault == table.NumberOK {
		return v, present
	}
	return odd(i, text, fault)
}

// typed takes a number of row of a typed column. NaN is a fault there too, unless the
// mapping lists NaN among the missing words.
func (s *special) typed(c *table.Column, row int, v float64, i int, odd oddCell) (float64, state) {
	switch {
	case c.IsNull(row) || s.missing(v):
		return 0, absent
	case math.IsNaN(v) || math.IsInf(v, 0):
		if math.IsNaN(v) && s.nanMissing() {
			return 0, absent
		}
		return odd(i, string(appendCell(nil, c, row)), table.NumberNotFinite)
	}
	return v, present
}

func (s *special) nanMissing() bool {
	for word := range s.binding.Missing {
		if strings.EqualFold(word, "nan") {
			return true
		}
	}
	return false
}

// conversion applies a quantity.Conversion, inline where it is a fraction.
type conversion struct {
	num, den float64
	linear   bool
	identity bool
	full     quantity.Conversion
}

func newConversion(c quantity.Conversion) conversion {
	out := conversion{full: c, identity: c.Identity()}
	out.num, out.den, out.linear = c.Linear()
	return out
}

func (c *conversion) apply(v float64) float64 {
	if c.identity {
		return v
	}
	if c.linear {
		return v * c.num / c.den
	}
	return c.full.Apply(v)
}

// elapsed reads mm:ss or h:mm:ss with decimals of seconds, in minutes. It takes
// the plain forms only; everything else is left to units.Time.
func elapsed(cell string, comma bool) (float64, bool) {
	mark := byte('.')
	if comma {
		mark = ','
	}
	var part [3]int
	n, digits := 0, 0
	for i := 0; i < len(cell); i++ {
		switch c := cell[i]; {
		case c-'0' <= 9:
			part[n] = part[n]*10 + int(c-'0')
			if digits++; digits > 6 {
				return 0, false
			}
		case c == ':' && n < 2 && digits > 0 && (n == 0 || digits == 2):
			n++
			digits = 0
		case c == mark && n > 0 && digits == 2:
			return fraction(cell, i, part, n, comma)
		default:
			return 0, false
		}
	}
	if n == 0 || digits != 2 {
		return 0, false
	}
	return minutes(part, n, float64(part[n]))
}

// fraction finishes a time whose seconds, part[n], have decimals behind cell[i].
func fraction(cell string, i int, part [3]int, n int, comma bool) (float64, bool) {
	at := strings.LastIndexByte(cell[:i], ':') + 1
	rest := cell[at:]
	seconds, fault := table.ParseFloat([]byte(rest), comma)
	if last := rest[len(rest)-1]; fault != table.NumberOK || last < '0' || last > '9' || strings.ContainsAny(rest, "eE") {
		return 0, false
	}
	return minutes(part, n, seconds)
}

func minutes(part [3]int, n int, seconds float64) (float64, bool) {
	whole := part[0]
	if n == 2 {
		if part[1] >= 60 {
			return 0, false
		}
		whole = part[0]*60 + part[1]
	}
	if seconds >= 60 {
		return 0, false
	}
	return (float64(whole)*60 + seconds) / 60, true
}
