package api

import (
	"bytes"
	"io"
	"iter"

	"sheetwash/analysis/result"
	"sheetwash/api/report"
	"sheetwash/api/rows"
)

// writeStream writes a table as an Arrow stream, which is what goes over a
// connection; report writes Arrow files.
func writeStream(w io.Writer, a *result.Analysis, table string, u report.Units) error {
	var b bytes.Buffer
	if err := report.Write(&b, a, table, report.Options{Format: report.JSON, Units: u, Workers: 1}); err != nil {
		return err
	}
	desc, _ := report.Find(table, u)
	_, err := rows.WriteArrow(w, desc, u, lines(b.Bytes()))
	return err
}

// lines yields the rows of a JSON array that has one a line.
func lines(data []byte) iter.Seq2[[]byte, error] {
	return func(yield func([]byte, error) bool) {
		for line := range bytes.Lines(data) {
			line = bytes.TrimSuffix(bytes.TrimSuffix(line, []byte("\n")), []byte(","))
			if len(line) > 1 && !yield(line, nil) {
				return
			}
		}
	}
}
