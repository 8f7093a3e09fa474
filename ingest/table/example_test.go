package table_test

import (
	"context"
	"fmt"
	"strings"

	"sheetwash/ingest/table"
)

// A sheet with semicolons and decimal commas: what was assumed is in Issues.
func ExampleOpenText() {
	text := "run;plot;volume [mL]\nAM-1;1;740,5\nAM-1;2;612\n"
	t, err := table.OpenText("Ashlock Mill/samples.csv", "", strings.NewReader(text), table.TextOptions{})
	if err != nil {
		fmt.Println(err)
		return
	}
	defer t.Close()
	for _, i := range t.Issues().All() {
		fmt.Println(i.Severity, i)
	}
	err = t.Scan(context.Background(), table.ScanOptions{Workers: 2}, func(b *table.Batch) any {
		sum := 0.0
		for i := range b.N {
			v, _ := table.ParseFloat(b.Cols[2].Bytes(i), t.DecimalComma())
			sum += v
		}
		return sum
	}, func(sum any) { fmt.Println("mL in a batch:", sum) })
	if err != nil {
		fmt.Println(err)
	}
	// Output:
	// note Ashlock Mill/samples.csv: numbers are taken to have a decimal comma (text.decimal_comma)
	// note Ashlock Mill/samples.csv: cells are taken to be separated by semicolons (text.delimiter)
	// mL in a batch: 1352.5
}
