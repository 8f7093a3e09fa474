package report

import (
	"fmt"
	"strings"
)

// Format is a file format of the result tables.
type Format string

// The formats. All hold the same rows, columns and digits.
const (
	CSV     Format = "csv"     // RFC 4180, one header row, LF, missing cells empty
	JSON    Format = "json"    // one array of flat objects, missing cells null
	Arrow   Format = "arrow"   // Arrow IPC file
	Parquet Format = "parquet" // zstd
)

// Formats lists the formats in the order in which files are written.
func Formats() []Format { return []Format{CSV, JSON, Arrow, Parquet} }

// ParseFormats reads a list such as "csv,parquet". The result is in the order of
// Formats and holds each once.
func ParseFormats(list string) ([]Format, error) {
	want := map[Format]bool{}
	for _, word := range strings.Split(list, ",") {
		f := Format(strings.ToLower(strings.TrimSpace(word)))
		switch f {
		case CSV, JSON, Arrow, Parquet:
			want[f] = true
		default:
			return nil, fmt.Errorf("format %q is none of csv, json, arrow, parquet", word)
		}
	}
	var out []Format
	for _, f := range Formats() {
		if want[f] {
			out = append(out, f)
		}
	}
	return out, nil
}

// FileName returns the name of the file that holds a table in this format.
func (f Format) FileName(table string) string { return table + "." + string(f) }
