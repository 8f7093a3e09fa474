package demo

import (
	"bytes"
	"fmt"
	"strconv"

	"sheetwash/ingest/columnar"
)

// columnarFiles is the teal crew's export from a notebook: runs as CSV, plots as
// an Arrow file, samples as Parquet, the units in the fields' metadata.
func columnarFiles(d day) ([]File, error) {
	files, err := d.csvFiles([]grid{d.runsGrid(metric)}, brackets)
	if err != nil {
		return nil, err
	}
	plots, err := columnarBytes(d.plotsGrid(metric), columnar.ArrowFile)
	if err != nil {
		return nil, err
	}
	samples, err := columnarBytes(d.samplesGrid(metric), columnar.Parquet)
	if err != nil {
		return nil, err
	}
	return append(files, d.in("plots.arrow", plots), d.in("samples.parquet", samples)), nil
}

func columnarBytes(g grid, f columnar.Format) ([]byte, error) {
	t := &columnar.OutTable{Meta: map[string]string{"note": "invented demo data"}}
	for i, c := range g.columns {
		out, err := columnarColumn(c, i, g.rows)
		if err != nil {
			return nil, fmt.Errorf("table %s: %w", g.name, err)
		}
		t.Columns = append(t.Columns, out)
	}
	var b bytes.Buffer
	err := columnar.Write(&b, f, t)
	return b.Bytes(), err
}

// columnarColumn types a column. A column of times that also holds "none" stays
// text, with its unit.
func columnarColumn(c gridColumn, col int, rows [][]string) (columnar.OutColumn, error) {
	out := columnar.OutColumn{Name: c.name, Unit: c.unit, Null: make([]bool, len(rows))}
	if !c.numeric() || holds(rows, col, "none") {
		out.Text = make([]string, len(rows))
		for i, r := range rows {
			out.Text[i], out.Null[i] = r[col], r[col] == ""
		}
		return out, nil
	}
	out.Kind, out.Float = columnar.OutFloat, make([]float64, len(rows))
	for i, r := range rows {
		if r[col] == "" {
			out.Null[i] = true
			continue
		}
		v, err := strconv.ParseFloat(r[col], 64)
		if err != nil {
			return out, err
		}
		out.Float[i] = v
	}
	return out, nil
}

func holds(rows [][]string, col int, word string) bool {
	for _, r := range rows {
		if r[col] == word {
			return true
		}
	}
	return false
}
