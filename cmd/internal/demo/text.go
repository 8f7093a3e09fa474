package demo

import (
	"bytes"
	"encoding/csv"
	"strings"

	"github.com/klauspost/compress/gzip"
)

// dialect is how a crew writes delimited text.
type dialect struct {
	comma        rune
	decimalComma bool
	header       func(gridColumn) string
}

// The dialects: units in brackets, in parentheses, or as a suffix.
var (
	brackets    = dialect{',', false, func(c gridColumn) string { return withUnit(c, " [", "]") }}
	parentheses = dialect{',', false, func(c gridColumn) string { return withUnit(c, " (", ")") }}
	continental = dialect{';', true, func(c gridColumn) string { return withUnit(c, " [", "]") }}
	suffixed    = dialect{',', false, func(c gridColumn) string { return suffix(c) }}
)

func withUnit(c gridColumn, before, after string) string {
	if !c.numeric() {
		return c.name
	}
	return c.name + before + c.unit + after
}

// suffix writes volume_mL. A unit that is not a word stands in brackets.
func suffix(c gridColumn) string {
	switch c.unit {
	case "mL", "g", "m2", "min", "kPa":
		return c.name + "_" + c.unit
	}
	return withUnit(c, " [", "]")
}

// csv writes a grid as delimited text.
func (d dialect) csv(g grid) ([]byte, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.Comma = d.comma
	row := make([]string, len(g.columns))
	for i, c := range g.columns {
		row[i] = d.header(c)
	}
	if err := w.Write(row); err != nil {
		return nil, err
	}
	for _, r := range g.rows {
		copy(row, r)
		if d.decimalComma {
			for i, c := range g.columns {
				if c.unit != "" {
					row[i] = strings.Replace(r[i], ".", ",", 1)
				}
			}
		}
		if err := w.Write(row); err != nil {
			return nil, err
		}
	}
	w.Flush()
	return b.Bytes(), w.Error()
}

// packed compresses a file; the header holds neither name nor time.
func packed(data []byte) ([]byte, error) {
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	if _, err := w.Write(data); err != nil {
		return nil, err
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}
