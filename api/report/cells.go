package report

import (
	"math"
	"strings"
	"unicode/utf8"

	"sheetwash/analysis/quantity"
)

// written is a sheet bound to the rows and the units of one file.
type written[R any] struct {
	*sheet[R]
	rows    records[R]
	targets map[string]*target
	names   []string
	fixed   []*quantity.Conversion // per column, nil: none; ByRow columns take that of the row
}

func (s *sheet[R]) bind(rows records[R], u Units) (*written[R], error) {
	targets, err := u.targets()
	if err != nil {
		return nil, err
	}
	w := &written[R]{sheet: s, rows: rows, targets: targets}
	for i := range s.columns {
		name, _ := u.column(s.columns[i].Name, s.columns[i].Unit)
		w.names = append(w.names, name)
		var c *quantity.Conversion
		if t, ok := targets[s.columns[i].Unit]; ok {
			c = &t.Conversion
		}
		w.fixed = append(w.fixed, c)
	}
	return w, nil
}

// rowUnit returns the word for the unit of a row and the conversion of its
// numbers, nil where they stay.
func (w *written[R]) rowUnit(r *R) (string, *quantity.Conversion) {
	if w.unit == nil {
		return "", nil
	}
	word := w.unit(r)
	if t, ok := w.targets[word]; ok {
		return t.word, &t.Conversion
	}
	return word, nil
}

// number returns a number cell in the units of the file. A value that is not
// finite is a missing one, and there is one zero.
func (w *written[R]) number(col int, r *R, byRow *quantity.Conversion) (float64, bool) {
	c := &w.columns[col]
	o := c.number(r)
	if !o.OK || math.IsNaN(o.V) || math.IsInf(o.V, 0) {
		return 0, false
	}
	v, convert := o.V, w.fixed[col]
	if c.ByRow && (c.as == nil || c.as(r)) {
		convert = byRow
	}
	if convert != nil {
		v = convert.Apply(v)
	}
	if math.IsInf(v, 0) { // the unit of the file cannot hold it
		return 0, false
	}
	if v == 0 {
		return 0, true
	}
	return v, true
}

// text returns a text cell; unit is the word for the unit of the row.
func (w *written[R]) text(col int, r *R, unit string) (string, bool) {
	c := &w.columns[col]
	t := unit
	if !c.isUnit {
		t = c.text(r)
	}
	if !utf8.ValidString(t) {
		t = strings.ToValidUTF8(t, "\uFFFD")
	}
	return t, t != "" || !c.Optional
}

// integer returns a whole-number cell.
func (w *written[R]) integer(col int, r *R) (int64, bool) {
	c := &w.columns[col]
	v := c.integer(r)
	return v, v != 0 || !c.Optional
}
