package report

import "strconv"

// appendCSVHeader writes the header row.
func (w *written[R]) appendCSVHeader(dst []byte) []byte {
	for i, n := range w.names {
		if i > 0 {
			dst = append(dst, ',')
		}
		dst = appendCSVText(dst, n)
	}
	return append(dst, '\n')
}

// appendCSVRow writes one row.
func (w *written[R]) appendCSVRow(dst []byte, r *R, _ bool) []byte {
	unit, byRow := w.rowUnit(r)
	for col := range w.columns {
		if col > 0 {
			dst = append(dst, ',')
		}
		switch w.columns[col].Kind {
		case Text:
			if t, ok := w.text(col, r, unit); ok {
				dst = appendCSVText(dst, t)
			}
		case Number:
			if v, ok := w.number(col, r, byRow); ok {
				dst = appendNumber(dst, v)
			}
		case Integer:
			if v, ok := w.integer(col, r); ok {
				dst = strconv.AppendInt(dst, v, 10)
			}
		case Bool:
			dst = strconv.AppendBool(dst, w.columns[col].boolean(r))
		}
	}
	return append(dst, '\n')
}

// appendCSVText writes a text cell: guarded against being taken for a formula,
// and quoted where RFC 4180 asks for it.
func appendCSVText(dst []byte, t string) []byte {
	quote := needsQuotes(t)
	if quote {
		dst = append(dst, '"')
	}
	if guarded(t) {
		dst = append(dst, '\'')
	}
	if !quote {
		return append(dst, t...)
	}
	for i := 0; i < len(t); i++ {
		if t[i] == '"' {
			dst = append(dst, '"')
		}
		dst = append(dst, t[i])
	}
	return append(dst, '"')
}

// needsQuotes reports whether a cell holds what RFC 4180 keeps in quotes. Cells
// are short, and a plain loop beats a search.
func needsQuotes(t string) bool {
	for i := 0; i < len(t); i++ {
		switch t[i] {
		case ',', '"', '\r', '\n':
			return true
		}
	}
	return false
}

// guarded reports whether a spreadsheet could take the text for a formula, once
// leading apostrophes are gone: ^'*[=+\-@\t\r]. The guard is one apostrophe more,
// so that taking one away gives the text back.
func guarded(t string) bool {
	for i := 0; i < len(t); i++ {
		switch t[i] {
		case '\'':
		case '=', '+', '-', '@', '\t', '\r':
			return true
		default:
			return false
		}
	}
	return false
}
