package ingest_test

import (
	"context"
	"fmt"
	"strings"

	"sheetwash/ingest"
)

// Reads a joined table from standard input. Its typing error rejects the dataset.
func Example() {
	table := "run,plot,treatment,area [m2],intensity [mm/h],rain_duration [min],stream,end [min],volume [mL]\n" +
		"AM-1,1,meadow fescue ley,0.75,76,30,runoff,10,740\n" +
		"AM-1,1,meadow fescue ley,0.75,76,30,runoff,20,39OO\n"
	sources, _, err := ingest.Find([]string{"-"}, ingest.FindOptions{Stdin: strings.NewReader(table)})
	if err != nil {
		fmt.Println(err)
		return
	}
	defer sources[0].Close()
	o, err := ingest.Read(context.Background(), sources[0], ingest.Options{Workers: 2})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println("accepted:", o.Dataset != nil)
	for _, i := range o.Issues {
		if i.Severity.String() == "error" {
			fmt.Println(i)
		}
	}
	// Output:
	// accepted: false
	// stdin.csv:3 [volume [mL]]: volume holds more than a number: put the unit into the header and remarks into a column of their own (cell.not_a_number)
}
