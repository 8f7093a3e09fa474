package report_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/analysis/result"
	"sheetwash/api/report"
)

// Every page of an indexed table holds its rows, and all pages together are the
// table that Write writes.
func TestPages(t *testing.T) {
	for _, a := range []*result.Analysis{{}, sample(), many(5000)} {
		for _, table := range report.Tables(report.US) {
			var text, index, plain bytes.Buffer
			rows, err := report.WriteIndexed(&text, &index, a, table.Name, report.Options{Units: report.US, Workers: 2})
			if err != nil {
				t.Fatal(err)
			}
			if err := report.Write(&plain, a, table.Name, report.Options{Format: report.JSON, Units: report.US}); err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(text.Bytes(), plain.Bytes()) {
				t.Fatalf("%s: the indexed table has other bytes than the plain one", table.Name)
			}
			var parsed []json.RawMessage
			if err := json.Unmarshal(text.Bytes(), &parsed); err != nil || int64(len(parsed)) != rows {
				t.Fatalf("%s: %d rows of %d: %v", table.Name, len(parsed), rows, err)
			}
			var whole [][]byte
			for _, r := range parsed {
				whole = append(whole, r)
			}
			rapid.Check(t, func(t *rapid.T) {
				first := rapid.Int64Range(0, rows).Draw(t, "first")
				end := rapid.Int64Range(first, rows).Draw(t, "end")
				at, n, err := report.PageOf(index.Bytes(), first, end)
				if err != nil {
					t.Fatal(err)
				}
				if got, want := text.Bytes()[at:at+n], bytes.Join(whole[first:end], []byte(",\n")); !bytes.Equal(got, want) {
					t.Fatalf("%s: rows %d to %d are %s, want %s", table.Name, first, end, got, want)
				}
			})
		}
	}
}

func TestPageOfDamage(t *testing.T) {
	for _, c := range []struct {
		index      string
		first, end int64
	}{{"", 0, 0}, {"12345678", 0, 1}, {"1234567890", 0, 0}, {strings.Repeat("\x00", 24), 0, 2}, {strings.Repeat("\x00", 24), 1, 0}, {strings.Repeat("\xff", 16) + strings.Repeat("\x00", 8), 0, 1}} {
		if _, _, err := report.PageOf([]byte(c.index), c.first, c.end); !errors.Is(err, report.ErrIndex) && c.first != c.end {
			t.Errorf("PageOf(%q, %d, %d) = %v", c.index, c.first, c.end, err)
		}
	}
}
