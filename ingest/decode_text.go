package ingest

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"

	"sheetwash/ingest/check"
	"sheetwash/ingest/issue"
	"sheetwash/ingest/mapping"
	"sheetwash/ingest/table"
	"sheetwash/ingest/units"
)

// put stores one trimmed, translated, non-missing text as cell i and returns a
// code and a message if it cannot be one.
type put func(out *cells, i int, text []byte) (issue.Code, string)

// texts hands each cell of the binding to put, as trimmed text.
func (d *decoder) texts(b *table.Batch, out *cells, store put, into *issue.List) {
	t := d.reader(b)
	for i := range b.N {
		text, state := d.meaning(t(i))
		if state != check.Present {
			out.state[i] = state
			continue
		}
		if code, message := store(out, i, text); code != "" {
			out.state[i] = check.Invalid
			d.fault(b, i, code, string(text), message, into)
			continue
		}
		out.state[i] = check.Present
	}
}

// reader returns a function that gives the text of the binding's cell i; it may
// be overwritten by the next call.
func (d *decoder) reader(b *table.Batch) func(i int) []byte {
	switch {
	case d.b.Source >= 0:
		return cellText(&b.Cols[d.b.Source])
	case len(d.b.Compose) > 0:
		return compose(b, d.b.Compose)
	default:
		constant := []byte(d.b.Constant)
		return func(int) []byte { return constant }
	}
}

// cellText returns the cells of a column as text. Numbers are written as short
// as they can be, so that a run identified by the integer 7 is the run "7".
func cellText(c *table.Column) func(i int) []byte {
	var buf []byte
	return func(i int) []byte {
		if c.IsNull(i) {
			return nil
		}
		switch c.Kind {
		case table.Text:
			return c.Bytes(i)
		case table.Dict:
			buf = append(buf[:0], c.Words[c.Codes[i]]...)
		case table.Int:
			buf = strconv.AppendInt(buf[:0], c.Int[i], 10)
		case table.Bool:
			buf = strconv.AppendBool(buf[:0], c.Bool[i])
		default:
			buf = strconv.AppendFloat(buf[:0], c.Float[i], 'f', -1, 64)
		}
		return buf
	}
}

// compose puts a text together from literals and cells. Where all cells are
// empty, so is the text.
func compose(b *table.Batch, parts []mapping.Part) func(i int) []byte {
	readers := make([]func(int) []byte, len(parts))
	for k, p := range parts {
		if p.Field >= 0 {
			readers[k] = cellText(&b.Cols[p.Field])
		}
	}
	var buf []byte
	return func(i int) []byte {
		buf = buf[:0]
		empty := true
		for k, p := range parts {
			if readers[k] == nil {
				buf = append(buf, p.Literal...)
				continue
			}
			if t := bytes.TrimSpace(readers[k](i)); len(t) > 0 {
				empty = false
				buf = append(buf, t...)
			}
		}
		if empty {
			return nil
		}
		return buf
	}
}

// meaning trims a cell, looks it up among the missing words and translates it.
func (d *decoder) meaning(text []byte) ([]byte, check.State) {
	text = bytes.TrimSpace(text)
	if len(d.b.Missing) > 0 {
		if m, ok := d.b.Missing[string(text)]; ok {
			if m == mapping.NotHappened {
				return nil, check.NotHappened
			}
			return nil, check.Absent
		}
	}
	if len(d.b.Translate) > 0 {
		if to, ok := d.b.Translate[string(text)]; ok {
			text = bytes.TrimSpace([]byte(to))
		}
	}
	if len(text) == 0 {
		return nil, check.Absent
	}
	return text, check.Present
}

// interner gives equal texts of one batch equal codes.
type interner struct {
	cells *cells
	codes map[string]int32
}

func (in *interner) put(out *cells, i int, text []byte) (issue.Code, string) {
	if i > 0 && out.state[i-1] == check.Present && out.words[out.code[i-1]] == string(text) {
		out.code[i] = out.code[i-1]
		return "", ""
	}
	if in.codes == nil {
		in.codes = map[string]int32{}
	}
	code, ok := in.codes[string(text)]
	if !ok {
		code = int32(len(out.words))
		word := string(text)
		out.words = append(out.words, word)
		in.codes[word] = code
	}
	out.code[i] = code
	return "", ""
}

// putWord accepts the words of the data dictionary in any case.
func (d *decoder) putWord(out *cells, i int, text []byte) (issue.Code, string) {
	for k, w := range d.b.Column.Words {
		if strings.EqualFold(w, string(text)) {
			out.code[i] = int32(k)
			return "", ""
		}
	}
	return CellNotAWord, fmt.Sprintf("%s must be one of %s", d.b.Name, strings.Join(d.b.Column.Words, ", "))
}

// putBool accepts true, false, yes, no, 1 and 0 in any case.
func (d *decoder) putBool(out *cells, i int, text []byte) (issue.Code, string) {
	switch strings.ToLower(string(text)) {
	case "true", "yes", "y", "1", "t":
		out.num[i] = 1
	case "false", "no", "n", "0", "f":
	default:
		return CellNotABool, d.b.Name + " must be true or false (yes, no, 1 and 0 will do)"
	}
	return "", ""
}

// putStamp accepts ISO 8601 dates and date-times.
func (d *decoder) putStamp(out *cells, i int, text []byte) (issue.Code, string) {
	t, err := units.Stamp(string(text), d.zone)
	if err != nil {
		return CellNotAStamp, d.b.Name + " must be a date such as 2031-05-14 or a date and time such as 2031-05-14T10:05:00+01:00"
	}
	out.stamp[i] = t
	if d.zone == nil && withoutOffset(string(text)) {
		out.local++
	}
	return "", ""
}

// withoutOffset reports whether an ISO 8601 stamp has a time of day and no offset.
func withoutOffset(stamp string) bool {
	at := strings.IndexAny(stamp, "T ")
	return at > 0 && !strings.ContainsAny(stamp[at:], "Zz+-")
}

// atLine adds the line of the file to a message where lines and rows differ.
func atLine(b *table.Batch, i int, message string) string {
	if l := b.Line(i); l > 0 && l != b.Row(i) {
		return fmt.Sprintf("%s (line %d)", message, l)
	}
	return message
}
