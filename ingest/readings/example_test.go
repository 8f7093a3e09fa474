package readings_test

import (
	"context"
	"fmt"
	"strings"

	"sheetwash/ingest/readings"
	"sheetwash/ingest/readings/loggerfile"
	"sheetwash/ingest/table"
)

// Four readings of a scale under the runoff of one plot, in two bins of 15 s.
func ExampleReduce() {
	text := "run,plot,time,channel,value,unit\n" +
		"AM-1,1,0,runoff_mass,0,g\nAM-1,1,5,runoff_mass,12,g\nAM-1,1,15,runoff_mass,0.036,kg\nAM-1,1,20,runoff_mass,48,g\n"
	t, err := table.OpenText("readings.csv", "", strings.NewReader(text), table.TextOptions{})
	if err != nil {
		fmt.Println(err)
		return
	}
	defer t.Close()
	got, err := readings.Reduce(context.Background(), loggerfile.Bind(t), readings.Options{Workers: 2, Unit: loggerfile.Unit})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, k := range got.Series {
		fmt.Println(k.Run, k.Plot, k.Series.Channel, k.Series.N, "readings")
		for _, b := range k.Series.Bins {
			fmt.Printf("from %.2f min: %d readings, mean %.0f g\n", float64(b.Index)*k.Series.BinMin, b.N, b.SumV/float64(b.N))
		}
	}
	// Output:
	// AM-1 1 runoff_mass 4 readings
	// from 0.00 min: 2 readings, mean 6 g
	// from 0.25 min: 2 readings, mean 42 g
}
