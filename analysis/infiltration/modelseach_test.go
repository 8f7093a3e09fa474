package infiltration

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// TestParametersOfTheRightForm asks how often the 95 % intervals of a model's parameters
// hold those of a soil that follows it: 6 to 30 intervals with normal errors of 0.7 mm/h,
// without storage or delay. A parameter without an interval is counted apart. The bounds
// are 93 and 98 % with four standard errors of the draws: more scatter than the errors allow widens an
// interval, and less does not narrow it.
func TestParametersOfTheRightForm(t *testing.T) {
	draws := flag.Lookup("draws").Value.(flag.Getter).Get().(int)
	in := Input{}
	in.defaults()
	models := capacities()
	var table strings.Builder
	for m := range models {
		c := &models[m]
		rows := c.allRows()
		held, valued := make([]int, len(rows)), make([]int, len(rows))
		random := rand.New(rand.NewPCG(uint64(m), 4))
		for range draws {
			d := plotOf(random, c, 0.7)
			s := seen{data: d.data}
			best := c.minimum(&s, d.r)
			if best.refused != nil {
				t.Fatalf("%s: %v", c.name, best.refused)
			}
			limit := best.least.Sum + in.room(best.scatter(), best.n-best.k)
			for n := range rows {
				p := best.value(&rows[n], d.r)
				best.bound(&p, &rows[n], limit, d.r)
				if !p.Low.OK || !p.High.OK {
					continue
				}
				valued[n]++
				if want := rows[n].of(d.p, d.r); p.Low.V <= want && want <= p.High.V {
					held[n]++
				}
			}
		}
		for n, row := range rows {
			share := float64(held[n]) / float64(valued[n])
			slack := 4 * math.Sqrt(0.95*0.05/float64(max(1, valued[n])))
			if flat := c.name == ConstantRate && row.name == PondingTime; !flat && (share < 0.93-slack || share > 0.98+slack) {
				t.Errorf("%s: %s held in %.3f of %d", c.name, row.name, share, valued[n])
			}
			fmt.Fprintf(&table, "| %s | %s | %d | %.1f | %.1f |\n", c.name, row.name, draws, 100*share, 100*(1-float64(valued[n])/float64(draws)))
		}
	}
	t.Logf("| model | parameter | draws | %% covered | %% without an interval |\n| --- | --- | --- | --- | --- |\n%s", table.String())
}
