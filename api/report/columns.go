package report

import (
	"io"

	"sheetwash/ingest/columnar"
)

// writeColumns writes the table as Arrow or Parquet. Every field carries its
// meaning, and its unit where it has one of its own.
func (w *written[R]) writeColumns(out io.Writer, opt Options) error {
	t := &columnar.OutTable{Meta: map[string]string{"table": w.name, "row": w.per, "units": opt.Units.String()}}
	for col := range w.columns {
		c := w.column(col)
		_, c.Unit = opt.Units.column(w.columns[col].Name, w.columns[col].Unit)
		t.Columns = append(t.Columns, c)
	}
	if opt.Format == Parquet {
		return columnar.Write(out, columnar.Parquet, t)
	}
	return columnar.Write(out, columnar.ArrowFile, t)
}

// column gathers the cells of one column.
func (w *written[R]) column(col int) columnar.OutColumn {
	n := len(w.rows)
	out := columnar.OutColumn{Name: w.names[col], Meta: map[string]string{"meaning": w.columns[col].Meaning}}
	if w.columns[col].Optional {
		out.Null = make([]bool, n)
	}
	put := func(i int, ok bool) {
		if out.Null != nil {
			out.Null[i] = !ok
		}
	}
	switch w.columns[col].Kind {
	case Text:
		out.Kind, out.Text = columnar.OutText, make([]string, n)
	case Number:
		out.Kind, out.Float = columnar.OutFloat, make([]float64, n)
	case Integer:
		out.Kind, out.Int = columnar.OutInt, make([]int64, n)
	case Bool:
		out.Kind, out.Bool = columnar.OutBool, make([]bool, n)
	}
	for i := range w.rows {
		r := &w.rows[i]
		unit, byRow := w.rowUnit(r)
		var ok bool
		switch out.Kind {
		case columnar.OutText:
			out.Text[i], ok = w.text(col, r, unit)
		case columnar.OutFloat:
			out.Float[i], ok = w.number(col, r, byRow)
		case columnar.OutInt:
			out.Int[i], ok = w.integer(col, r)
		case columnar.OutBool:
			out.Bool[i], ok = w.columns[col].boolean(r), true
		}
		put(i, ok)
	}
	return out
}
