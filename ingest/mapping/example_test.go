package mapping_test

import (
	"context"
	"fmt"

	"sheetwash/ingest/issue"
	"sheetwash/ingest/mapping"
)

func ExampleMap_Open() {
	m, _ := mapping.Parse([]byte(`
tables:
  runs:
    file: fieldbook.csv
    columns:
      run: Day
      rain_duration: {from: Minutes, unit: min}
      intensity: {constant: 3, unit: in/h}
`), "mapping.yaml")
	var issues issue.List
	bounds, _ := m.Open(context.Background(), files{"fieldbook.csv": "Day,Minutes,Weather\nAM-1,30,dry\n"}, &issues)
	for _, b := range bounds[0].Bindings {
		fmt.Println(b.Name, "from", b.Header, "in", b.Unit)
	}
	for _, i := range issues.All() {
		fmt.Println(i.Severity, i)
	}
	// Output:
	// run from Day in 1
	// intensity from intensity in [in_i]/h
	// rain_duration from Minutes in min
	// note fieldbook.csv [Weather]: the mapping does not name this column; it is not read (column.unused)
}
