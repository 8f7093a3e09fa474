package report

import (
	"fmt"
	"io"

	"sheetwash/ingest/columnar"
)

// writeColumns writes the table as Arrow or Parquet. Every field carries its
// meaning, and its unit where it has one of its own.
func (w *written[R]) writeColumns(out io.Writer, opt Options) error {
	format := columnar.ArrowFile
	if opt.Format == Parquet {
		format = columnar.Parquet
	}
	file, err := columnar.NewWriter(out, format, w.batch(nil, opt.Units))
	if err != nil {
		return err
	}
	var scratch []R
	for from := 0; from < w.rows.n; from += columnar.RowsPerGroup {
		scratch = w.rows.block(from, min(w.rows.n, from+columnar.RowsPerGroup), scratch)
		if err := file.Write(w.batch(scratch, opt.Units)); err != nil {
			return fmt.Errorf("write rows from %d: %w", from+1, err)
		}
	}
	return file.Close()
}

// batch puts rows in columns.
func (w *written[R]) batch(rows []R, u Units) *columnar.OutTable {
	t := &columnar.OutTable{Meta: map[string]string{"table": w.name, "row": w.per, "units": u.String()}}
	for col := range w.columns {
		c := w.column(rows, col)
		_, c.Unit = u.column(w.columns[col].Name, w.columns[col].Unit)
		t.Columns = append(t.Columns, c)
	}
	return t
}

// column gathers the cells of one column.
func (w *written[R]) column(rows []R, col int) columnar.OutColumn {
	n := len(rows)
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
	for i := range rows {
		r := &rows[i]
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
