package rows

import (
	"bufio"
	"io"
	"iter"

	"sheetwash/api/report"
)

// byteOrderMark makes spreadsheets read UTF-8.
const byteOrderMark = "\uFEFF"

// WriteCSV writes rows as RFC 4180 with one header row, LF and the guard of
// api/report. It returns how many rows it wrote.
func WriteCSV(w io.Writer, t report.Table, rows iter.Seq2[[]byte, error], mark bool) (int64, error) {
	out := bufio.NewWriterSize(w, 64<<10)
	var line []byte
	if mark {
		line = append(line, byteOrderMark...)
	}
	for i, c := range t.Columns {
		if i > 0 {
			line = append(line, ',')
		}
		line = appendText(line, c.Name)
	}
	if _, err := out.Write(append(line, '\n')); err != nil {
		return 0, err
	}
	var n int64
	var cells [][]byte
	for row, err := range rows {
		if err == nil {
			cells, err = Cells(cells, row)
		}
		if err == nil && len(cells) != len(t.Columns) {
			err = ErrRow
		}
		if err == nil {
			line, err = appendRow(line[:0], t, cells)
		}
		if err == nil {
			_, err = out.Write(line)
		}
		if err != nil {
			return n, err
		}
		n++
	}
	return n, out.Flush()
}

func appendRow(dst []byte, t report.Table, cells [][]byte) ([]byte, error) {
	for i, cell := range cells {
		if i > 0 {
			dst = append(dst, ',')
		}
		switch {
		case null(cell):
		case t.Columns[i].Kind == report.Text:
			s, err := word(cell)
			if err != nil {
				return nil, err
			}
			dst = appendText(dst, s)
		default:
			dst = append(dst, cell...)
		}
	}
	return append(dst, '\n'), nil
}

// appendText writes a text cell as api/report does: guarded against being taken
// for a formula, and quoted where RFC 4180 asks for it.
func appendText(dst []byte, s string) []byte {
	quote := false
	for i := 0; i < len(s) && !quote; i++ {
		quote = s[i] == ',' || s[i] == '"' || s[i] == '\r' || s[i] == '\n'
	}
	if quote {
		dst = append(dst, '"')
	}
	if guarded(s) {
		dst = append(dst, '\'')
	}
	for i := 0; i < len(s); i++ {
		if s[i] == '"' {
			dst = append(dst, '"')
		}
		dst = append(dst, s[i])
	}
	if quote {
		dst = append(dst, '"')
	}
	return dst
}

// guarded reports whether a text matches ^'*[=+\-@\t\r].
func guarded(s string) bool {
	for i := 0; i < len(s); i++ {
		switch s[i] {
		case '\'':
		case '=', '+', '-', '@', '\t', '\r':
			return true
		default:
			return false
		}
	}
	return false
}
