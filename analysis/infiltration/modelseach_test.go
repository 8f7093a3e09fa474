package infiltration

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
)

// TestModelsFittedByEach fits every model to soils that follow Horton, Philip,
// Green-Ampt and Smith-Parlange, without storage or delay, from 6 to 30 intervals
// with normal errors of 0.7 mm/h: how often does the 95 % interval hold the
// capacity at the end of rain? The soil's own model has to.
func TestModelsFittedByEach(t *testing.T) {
	draws := flag.Lookup("draws").Value.(flag.Getter).Get().(int) / 10
	in := Input{}
	in.defaults()
	models := capacities()
	var table strings.Builder
	for truth := range models {
		name := models[truth].name
		switch name {
		case HortonPonding, PhilipTwoTerm, GreenAmptModel, SmithParlangeModel:
		default:
			continue
		}
		held, valued := make([]int, len(models)), make([]int, len(models))
		random := rand.New(rand.NewPCG(uint64(truth), 4))
		for range draws {
			d := plotOf(random, &models[truth], 0.7)
			want := models[truth].last(d.p, d.r)
			in.IntensityMMH, in.RainMin = d.r.i, 60*d.r.end
			for m := range models {
				f := models[m].fit(&in, d.data, d.r)
				end := f.row(CapacityAtEnd)
				if !end.Value.OK {
					continue
				}
				valued[m]++
				if end.Low.OK && end.High.OK && end.Low.V <= want && want <= end.High.V {
					held[m]++
				}
			}
		}
		fmt.Fprintf(&table, "| %s |", name)
		for m := range models {
			fmt.Fprintf(&table, " %.1f |", 100*float64(held[m])/float64(valued[m]))
		}
		fmt.Fprintln(&table)
		if share := float64(held[truth]) / float64(valued[truth]); share < 0.8 {
			t.Errorf("%s: %.0f %% of %d intervals hold the capacity of its own soil", name, 100*share, valued[truth])
		}
	}
	var head, rule strings.Builder
	for m := range models {
		fmt.Fprintf(&head, " %s |", models[m].name)
		fmt.Fprint(&rule, " --- |")
	}
	t.Logf("%d draws a soil\n| soil |%s\n| --- |%s\n%s", draws, head.String(), rule.String(), table.String())
}
