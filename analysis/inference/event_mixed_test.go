package inference_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"sheetwash/analysis/inference"
)

// eventPlots are plots of three treatments in events, unbalanced.
func eventPlots(seed uint64, events int) (y []float64, treatment, event []int) {
	r := rand.New(rand.NewPCG(seed, 5))
	for e := range events {
		u := 1.2 * r.NormFloat64()
		for t := range 3 {
			w := 0.7 * r.NormFloat64()
			for range 1 + r.IntN(3) {
				if e == 1 && t == 2 {
					continue // a treatment that an event has not
				}
				y, treatment, event = append(y, float64(t)+u+w+r.NormFloat64()), append(treatment, t), append(event, e)
			}
		}
	}
	return y, treatment, event
}

func cellsOf(y []float64, treatment, event []int) ([]inference.EventCell, inference.Scatter) {
	var cells []inference.EventCell
	var within inference.Scatter
	at := map[[2]int][]float64{}
	var order [][2]int
	for i := range y {
		k := [2]int{event[i], treatment[i]}
		if at[k] == nil {
			order = append(order, k)
		}
		at[k] = append(at[k], y[i])
	}
	for _, k := range order {
		m, _ := inference.Mean(at[k])
		x := make([]float64, 3)
		x[k[1]] = 1
		cells = append(cells, inference.EventCell{Event: k[0], Mean: m.V, N: len(at[k]), X: x})
		for _, v := range at[k] {
			within.SS += (v - m.V) * (v - m.V)
			within.DF++
		}
		within.DF--
	}
	return cells, within
}

// The model of cell means is that of the plots: estimates, errors, degrees of freedom
// and variances of Mixed, which is checked against lme4 and lmerTest.
func TestMixedEventsIsMixed(t *testing.T) {
	for seed := range uint64(2) {
		y, treatment, event := eventPlots(seed, 5)
		columns := make([][]float64, 3)
		var events, cells []string
		for i := range y {
			for j := range columns {
				v := 0.0
				if treatment[i] == j {
					v = 1
				}
				columns[j] = append(columns[j], v)
			}
			events = append(events, fmt.Sprint(event[i]))
			cells = append(cells, fmt.Sprint(event[i], ".", treatment[i]))
		}
		want, err := inference.Mixed(y, columns, [][]string{events, cells}, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		got, err := inference.MixedEvents(cellsOf(y, treatment, event))
		if err != nil {
			t.Fatal(err)
		}
		for i, v := range []float64{got.BetweenEvents, got.Interaction, got.Plots} {
			if w := want.Variances[i].Value.V; math.Abs(v-w) > 1e-5*(1+w) {
				t.Errorf("seed %d: variance %d is %v, not %v", seed, i, v, w)
			}
		}
		c, df := want.Contrast([]float64{1, 0, -1})
		d := got.Contrast([]float64{1, 0, -1}, 0.95)
		for i, v := range [][2]float64{{d.Value.V, c.Value.V}, {d.SE.V, c.SE.V}, {d.DF.V, df.V}, {d.Low.V, c.Low.V}, {d.P.V, c.P.V}} {
			if math.Abs(v[0]-v[1]) > 2e-5*(1+math.Abs(v[1])) {
				t.Errorf("seed %d: %d is %v, not %v", seed, i, v[0], v[1])
			}
		}
	}
}

func BenchmarkMixedEvents(b *testing.B) {
	y, treatment, event := eventPlots(1, 12)
	cells, within := cellsOf(y, treatment, event)
	for b.Loop() {
		if _, err := inference.MixedEvents(cells, within); err != nil {
			b.Fatal(err)
		}
	}
}
