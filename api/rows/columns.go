package rows

import (
	"fmt"
	"io"
	"iter"
	"strconv"

	"sheetwash/api/report"
	"sheetwash/ingest/columnar"
)

// WriteArrow writes rows as an Arrow stream. It returns how many rows it wrote.
func WriteArrow(w io.Writer, t report.Table, u report.Units, rows iter.Seq2[[]byte, error]) (int64, error) {
	return writeColumns(w, columnar.ArrowStream, t, u, rows)
}

// WriteParquet writes rows as Parquet. It returns how many rows it wrote.
func WriteParquet(w io.Writer, t report.Table, u report.Units, rows iter.Seq2[[]byte, error]) (int64, error) {
	return writeColumns(w, columnar.Parquet, t, u, rows)
}

func writeColumns(w io.Writer, f columnar.Format, t report.Table, u report.Units, rows iter.Seq2[[]byte, error]) (int64, error) {
	b := newBatch(t, u)
	file, err := columnar.NewWriter(w, f, &b.OutTable)
	if err != nil {
		return 0, err
	}
	var n int64
	var cells [][]byte
	for row, err := range rows {
		if err == nil {
			cells, err = Cells(cells, row)
		}
		if err == nil {
			err = b.add(t, cells)
		}
		if err == nil && b.rows == columnar.RowsPerGroup {
			err = b.write(file)
		}
		if err != nil {
			return n, err
		}
		n++
	}
	if b.rows > 0 {
		if err := b.write(file); err != nil {
			return n, err
		}
	}
	return n, file.Close()
}

// batch is rows turned into columns.
type batch struct {
	columnar.OutTable
	rows int
}

func newBatch(t report.Table, u report.Units) *batch {
	b := &batch{}
	b.Meta = map[string]string{"table": t.Name, "row": t.Per, "units": u.String()}
	for _, c := range t.Columns {
		out := columnar.OutColumn{Name: c.Name, Unit: c.Unit, Meta: map[string]string{"meaning": c.Meaning}}
		out.Kind = map[report.Kind]columnar.OutKind{
			report.Text: columnar.OutText, report.Number: columnar.OutFloat, report.Integer: columnar.OutInt, report.Bool: columnar.OutBool,
		}[c.Kind]
		b.Columns = append(b.Columns, out)
	}
	for i, c := range t.Columns {
		if c.Optional {
			b.Columns[i].Null = []bool{}
		}
	}
	return b
}

func (b *batch) add(t report.Table, cells [][]byte) error {
	if len(cells) != len(b.Columns) {
		return fmt.Errorf("%w: %d cells", ErrRow, len(cells))
	}
	for i, cell := range cells {
		if err := add(&b.Columns[i], cell); err != nil {
			return fmt.Errorf("%w: column %s: %w", ErrRow, t.Columns[i].Name, err)
		}
	}
	b.rows++
	return nil
}

func add(c *columnar.OutColumn, cell []byte) (err error) {
	missing := null(cell)
	if c.Null != nil {
		c.Null = append(c.Null, missing)
	} else if missing {
		return fmt.Errorf("a cell is missing")
	}
	switch c.Kind {
	case columnar.OutText:
		s := ""
		if !missing {
			s, err = word(cell)
		}
		c.Text = append(c.Text, s)
	case columnar.OutFloat:
		v := 0.0
		if !missing {
			v, err = strconv.ParseFloat(string(cell), 64)
		}
		c.Float = append(c.Float, v)
	case columnar.OutInt:
		var v int64
		if !missing {
			v, err = strconv.ParseInt(string(cell), 10, 64)
		}
		c.Int = append(c.Int, v)
	case columnar.OutBool:
		c.Bool = append(c.Bool, string(cell) == "true")
	}
	return err
}

func (b *batch) write(file *columnar.Writer) error {
	if err := file.Write(&b.OutTable); err != nil {
		return err
	}
	for i := range b.Columns {
		c := &b.Columns[i]
		c.Text, c.Float, c.Int, c.Bool = c.Text[:0], c.Float[:0], c.Int[:0], c.Bool[:0]
		if c.Null != nil {
			c.Null = c.Null[:0]
		}
	}
	b.rows = 0
	return nil
}
