package ingest

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strings"

	"sheetwash/ingest/check"
	"sheetwash/ingest/issue"
	"sheetwash/ingest/mapping"
	"sheetwash/ingest/schema"
	"sheetwash/ingest/table"
	"sheetwash/ingest/units"
)

// numbers decodes a Number or Time column. Cells of typed files skip text.
func (d *decoder) numbers(b *table.Batch, out *cells, into *issue.List) {
	if d.b.Source >= 0 {
		c := &b.Cols[d.b.Source]
		switch c.Kind {
		case table.Float:
			d.floats(b, c, out, into)
			return
		case table.Int:
			d.ints(b, c, out, into)
			return
		case table.Dict:
			d.dictionary(b, c, out, into)
			return
		case table.Text:
			if c.Null == nil && len(d.b.Missing) == 0 && len(d.b.Translate) == 0 {
				for i := range b.N {
					d.number(b, i, c.Bytes(i), out, into)
				}
				return
			}
		}
	}
	t := d.reader(b)
	for i := range b.N {
		text, state := d.meaning(t(i))
		if state != check.Present {
			out.state[i] = state
			continue
		}
		d.number(b, i, text, out, into)
	}
}

// number decodes one text cell: a plain number at once, everything else by the
// slower path.
func (d *decoder) number(b *table.Batch, i int, text []byte, out *cells, into *issue.List) {
	v, fault := table.ParseFloat(text, d.comma)
	switch fault {
	case table.NumberOK:
		out.num[i], out.state[i] = d.canonical(v), check.Present
		if !finite(out.num[i]) {
			d.noValue(b, i, string(text), out, into)
		}
	case table.NumberEmpty:
	default:
		d.unusual(b, i, bytes.TrimSpace(text), fault, out, into)
	}
}

// finite reports whether v is a number: the difference to itself of an infinity
// or a NaN is NaN.
func finite(v float64) bool { return v-v == 0 }

// noValue reports a number that has no counterpart in the canonical unit: a slope
// of a right angle, or one beyond the range.
func (d *decoder) noValue(b *table.Batch, i int, text string, out *cells, into *issue.List) {
	out.num[i], out.state[i] = 0, check.Invalid
	d.fault(b, i, CellNotFinite, text, fmt.Sprintf("%s has no value in %s: it is too large, or a slope angle of 90 degrees or more", d.b.Name, d.b.Canonical), into)
}

// unusual decodes a cell that is no plain number: a word for "did not happen", a
// time of another form, a number with a percent sign, or a class.
func (d *decoder) unusual(b *table.Batch, i int, text []byte, fault table.NumberFault, out *cells, into *issue.List) {
	if len(text) == 0 {
		return
	}
	if d.happens && strings.EqualFold(string(text), "none") {
		out.state[i] = check.NotHappened
		return
	}
	if fault == table.NumberNotFinite {
		out.state[i] = check.Invalid
		d.fault(b, i, CellNotFinite, string(text), d.b.Name+" is not a finite number: empty the cell if it was not measured, or declare the word as missing in mapping.yaml", into)
		return
	}
	if d.kind == schema.Time {
		d.time(b, i, string(text), out, into)
		return
	}
	if d.duration(i, string(text), out) {
		return
	}
	if v, u, ok := d.class(text); ok {
		out.num[i], out.state[i] = v, check.Present
		if u > 0 {
			if out.u == nil {
				out.u = make([]float64, b.N)
			}
			out.u[i] = u
		}
		return
	}
	out.state[i] = check.Invalid
	code, message := d.explain(string(text), fault)
	d.fault(b, i, code, string(text), message, into)
}

// time decodes h:mm:ss, clock times and stamps. What needs the start of the run
// waits until the runs are known.
func (d *decoder) time(b *table.Batch, i int, text string, out *cells, into *issue.List) {
	v, err := units.Time(text, d.rule())
	switch {
	case err == nil:
		out.num[i], out.state[i] = v, check.Present
	case errors.Is(err, units.ErrNoStart):
		out.state[i] = check.Invalid
		out.later = append(out.later, laterCell{row: i, text: text})
	default:
		out.state[i] = check.Invalid
		d.fault(b, i, CellNotATime, text, timeAdvice(d.b.Name), into)
	}
}

// duration decodes h:mm:ss, mm:ss or a number with a unit of its own in a column
// of durations. A time of day is none.
func (d *decoder) duration(i int, text string, out *cells) bool {
	if d.b.Column == nil || d.b.Column.Unit != "min" {
		return false
	}
	v, err := units.Time(text, units.TimeRule{Unit: d.b.Unit, DecimalComma: d.comma})
	if err != nil {
		return false
	}
	out.num[i], out.state[i] = v, check.Present
	return true
}

func timeAdvice(name string) string {
	also := ""
	if name == "runoff_start" || name == "ponding_start" {
		also = ", or none if it did not happen"
	}
	return name + " must be a time from the start of rain: a number, h:mm:ss or mm:ss, or a clock time or stamp where the run's start is given" + also +
		"; empty the cell if it was not noted, or declare the word as missing in mapping.yaml"
}

// class decodes a number with a percent sign (0.70%), and in the slope column a
// class (1-3 %, 1 to 3 %), whose value is its midpoint with a standard uncertainty u.
func (d *decoder) class(text []byte) (v, u float64, ok bool) {
	var err error
	if d.b.Column != nil && d.b.Name == "slope" {
		v, u, err = d.slow.Class(string(text))
	} else {
		v, err = d.slow.Number(string(text))
	}
	return v, u, err == nil
}

// explain says what a text in a number column is and what to do.
func (d *decoder) explain(text string, fault table.NumberFault) (issue.Code, string) {
	name := d.b.Name
	other := byte(',')
	if d.comma {
		other = '.'
	}
	switch first := text[0]; {
	case fault == table.NumberRange:
		return CellNotFinite, name + " is too large for a number: correct it"
	case strings.ContainsRune("<>~≤≥", []rune(text)[0]):
		return CellBound, fmt.Sprintf("%s is written as a bound: give the number alone, and for a bottle that ran over set flag to overflow", name)
	case first >= '0' && first <= '9' && strings.IndexByte(text, other) >= 0:
		mark := "point"
		if d.comma {
			mark = "comma"
		}
		return CellNotANumber, fmt.Sprintf("%s is not a number with a decimal %s, as the rest of the file has: use one mark throughout and no separators between thousands", name, mark)
	case first >= '0' && first <= '9':
		return CellNotANumber, name + " holds more than a number: put the unit into the header and remarks into a column of their own"
	}
	return CellNotANumber, name + " is not a number: correct it, empty the cell if it was not measured, or declare the word as missing in mapping.yaml"
}

// floats decodes a column of typed numbers.
func (d *decoder) floats(b *table.Batch, c *table.Column, out *cells, into *issue.List) {
	missing := d.missingNumbers()
	for i, v := range c.Float {
		switch {
		case c.IsNull(i):
		case math.IsNaN(v) || math.IsInf(v, 0):
			out.state[i] = check.Invalid
			d.fault(b, i, CellNotFinite, fmt.Sprint(v), d.b.Name+" is not a finite number: write a null where nothing was measured", into)
		default:
			if len(missing) > 0 {
				if m, ok := missing[v]; ok {
					out.state[i] = stateOf(m)
					continue
				}
			}
			out.num[i], out.state[i] = d.canonical(v), check.Present
			if !finite(out.num[i]) {
				d.noValue(b, i, fmt.Sprint(v), out, into)
			}
		}
	}
}

func (d *decoder) ints(b *table.Batch, c *table.Column, out *cells, into *issue.List) {
	missing := d.missingNumbers()
	for i, v := range c.Int {
		if c.IsNull(i) {
			continue
		}
		if m, ok := missing[float64(v)]; ok {
			out.state[i] = stateOf(m)
			continue
		}
		out.num[i], out.state[i] = d.canonical(float64(v)), check.Present
		if !finite(out.num[i]) {
			d.noValue(b, i, fmt.Sprint(v), out, into)
		}
	}
}

// missingNumbers returns the missing words that are numbers, such as -99.
func (d *decoder) missingNumbers() map[float64]mapping.Meaning {
	var out map[float64]mapping.Meaning
	for w, m := range d.b.Missing {
		if v, fault := table.ParseFloat([]byte(w), d.comma); fault == table.NumberOK {
			if out == nil {
				out = map[float64]mapping.Meaning{}
			}
			out[v] = m
		}
	}
	return out
}

func stateOf(m mapping.Meaning) check.State {
	if m == mapping.NotHappened {
		return check.NotHappened
	}
	return check.Absent
}

// dictionary decodes a column of codes: each word once per batch, as far as it
// is used.
func (d *decoder) dictionary(b *table.Batch, c *table.Column, out *cells, into *issue.List) {
	type parsed struct {
		v  float64
		ok bool
	}
	seen := map[int32]parsed{}
	for i, code := range c.Codes {
		if c.IsNull(i) {
			continue
		}
		p, known := seen[code]
		if !known {
			text, state := d.meaning([]byte(c.Words[code]))
			if v, fault := table.ParseFloat(text, d.comma); state == check.Present && fault == table.NumberOK {
				p.v = d.canonical(v)
				p.ok = finite(p.v)
			}
			seen[code] = p
		}
		if p.ok {
			out.num[i], out.state[i] = p.v, check.Present
			continue
		}
		text, state := d.meaning([]byte(c.Words[code]))
		if state != check.Present {
			out.state[i] = state
			continue
		}
		d.number(b, i, text, out, into)
	}
}
