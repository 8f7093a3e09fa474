package mapping

import (
	"bytes"
	"encoding/csv"

	"sheetwash/ingest/schema"
)

// Template returns an empty CSV of one table of the data dictionary: the header
// with the unit of each column and one filled example row; ok is false for a
// table that the dictionary does not have. What it returns is read back without
// a default unit being assumed.
func Template(tableName string) (content []byte, ok bool) {
	t, ok := schema.Find(tableName)
	if !ok {
		return nil, false
	}
	var header, example []string
	for _, c := range t.Columns {
		name := c.Name
		if c.Default != "" {
			name += " [" + readable(c.Default) + "]"
		}
		header, example = append(header, name), append(example, c.Example)
	}
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	_ = w.WriteAll([][]string{header, example}) // a bytes.Buffer takes everything
	return b.Bytes(), true
}

// readable writes a UCUM code as a crew would: annotations without braces.
func readable(code string) string {
	if code == "{NTU}" {
		return "NTU"
	}
	return code
}
