package report

import (
	"bytes"
	"encoding/json"
	"strconv"

	"sheetwash/analysis/quantity"
)

// appendJSONRow writes one row as a flat object, after a comma unless it is the
// first.
func (w *written[R]) appendJSONRow(dst []byte, r *R, first bool) []byte {
	unit, byRow := w.rowUnit(r)
	if !first {
		dst = append(dst, ',')
	}
	dst = append(dst, '\n')
	for col := range w.columns {
		dst = append(dst, separator(col))
		dst = append(dst, '"')
		dst = append(dst, w.names[col]...)
		dst = append(dst, '"', ':')
		dst = w.appendJSONCell(dst, col, r, unit, byRow)
	}
	return append(dst, '}')
}

func separator(col int) byte {
	if col == 0 {
		return '{'
	}
	return ','
}

func (w *written[R]) appendJSONCell(dst []byte, col int, r *R, unit string, byRow *quantity.Conversion) []byte {
	switch w.columns[col].Kind {
	case Text:
		if t, ok := w.text(col, r, unit); ok {
			return appendJSONText(dst, t)
		}
	case Number:
		if v, ok := w.number(col, r, byRow); ok {
			return appendNumber(dst, v)
		}
	case Integer:
		if v, ok := w.integer(col, r); ok {
			return strconv.AppendInt(dst, v, 10)
		}
	case Bool:
		return strconv.AppendBool(dst, w.columns[col].boolean(r))
	}
	return append(dst, "null"...)
}

// appendJSONText writes a string. What needs no escape is copied.
func appendJSONText(dst []byte, t string) []byte {
	for i := 0; i < len(t); i++ {
		if c := t[i]; c < 0x20 || c >= 0x7f || c == '"' || c == '\\' {
			return appendEscaped(dst, t)
		}
	}
	dst = append(dst, '"')
	dst = append(dst, t...)
	return append(dst, '"')
}

func appendEscaped(dst []byte, t string) []byte {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(t); err != nil { // a string always encodes
		return append(dst, "null"...)
	}
	return append(dst, bytes.TrimSuffix(b.Bytes(), []byte("\n"))...)
}
