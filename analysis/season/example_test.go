package season_test

import (
	"fmt"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/analysis/season"
)

// Four plots of one run: a mean with the interval of three degrees of freedom.
func ExampleTreatments() {
	var rows []result.PlotRow
	for i, depth := range []float64{18.2, 21.4, 16.9, 19.7} {
		rows = append(rows, result.PlotRow{
			Subject: &result.Subject{Event: "Ashlock Mill", Run: "AM-1", Plot: fmt.Sprint(i + 1), Treatment: "barley stubble"},
			Metric:  result.RunoffDepth, Method: "bottles", Headline: true,
			Estimate: result.Estimate{Value: quantity.Some(depth), Censored: result.Observed},
		})
	}
	treatments, err := season.Treatments(rows, 0.95)
	if err != nil {
		fmt.Println(err)
		return
	}
	r := treatments[0]
	fmt.Printf("%s, %s: %s %.2f %s [%.2f, %.2f], n = %d\n", r.Scope, r.Treatment, r.Statistic, r.Value.V, r.Unit, r.Low.V, r.High.V, r.NPlots)
	// Output:
	// event:Ashlock Mill, barley stubble: mean 19.05 mm [15.96, 22.14], n = 4
}
