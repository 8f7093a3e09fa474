package ingest

import (
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/ingest/check"
	"sheetwash/ingest/issue"
	"sheetwash/ingest/mapping"
	"sheetwash/ingest/schema"
)

// Leaving out repeated rows while a joined table is read changes neither the
// merged table nor what is found in it.
func TestRepeatsChangeNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		chunks := rapid.SliceOfN(rapid.Custom(joinedChunk), 1, 4).Draw(t, "chunks")
		merge := func(joint *repeats) (*check.Frame, []issue.Issue) {
			b := newBuilder("plots")
			b.joint = joint
			f := &feed{into: b, joint: true, local: make([]int, 4), bound: &mapping.Bound{}}
			for _, c := range jointColumns {
				f.bound.Bindings = append(f.bound.Bindings, mapping.Binding{Name: c.Name})
				b.frame.Add(&check.Column{Name: c.Name, Kind: c.Kind})
			}
			b.frame.Parts = []check.Part{{File: "joined.csv", Shown: map[string]check.Shown{}}}
			row := int64(2)
			for _, c := range chunks {
				var rows []int64
				var cols []cells
				for _, k := range c {
					k.code = slices.Clone(k.code) // they are translated in place
					cols = append(cols, k)
				}
				for range c[0].state {
					rows = append(rows, row)
					row++
				}
				b.append(f, rows, nil, cols)
			}
			var into issue.List
			return distinct(b.frame, []string{"run", "plot"}, PlotDisagrees, true, &into), into.All()
		}
		want, wantIssues := merge(nil)
		got, gotIssues := merge(newRepeats("plots"))
		if got.N != want.N {
			t.Fatalf("%d rows, not %d", got.N, want.N)
		}
		for i := range want.N {
			if got.Row(i) != want.Row(i) {
				t.Errorf("row %d is %d, not %d", i, got.Row(i), want.Row(i))
			}
		}
		for k, c := range want.Columns {
			if !reflect.DeepEqual(got.Columns[k], c) {
				t.Errorf("column %s: %+v, not %+v", c.Name, got.Columns[k], c)
			}
		}
		if !reflect.DeepEqual(gotIssues, wantIssues) {
			t.Errorf("findings %v, not %v", gotIssues, wantIssues)
		}
	})
}

var jointColumns = []schema.Column{{Name: "run"}, {Name: "plot"}, {Name: "treatment"}, {Name: "runoff_start", Kind: schema.Number}}

// joinedChunk draws a few rows with few keys and few values, so that rows repeat,
// disagree and lack cells.
func joinedChunk(t *rapid.T) []cells {
	n := rapid.IntRange(1, 12).Draw(t, "rows")
	out := make([]cells, len(jointColumns))
	for k, column := range jointColumns {
		c := cells{state: make([]check.State, n)}
		if column.Kind == schema.Number {
			c.num = make([]float64, n)
		} else {
			c.code, c.words = make([]int32, n), rapid.Permutation([]string{"a", "b"}).Draw(t, "words")
		}
		for i := range n {
			c.state[i] = rapid.SampledFrom([]check.State{check.Present, check.Present, check.Present, check.Absent, check.NotHappened, check.Invalid}).Draw(t, "state")
			if k < 3 && c.state[i] == check.NotHappened {
				c.state[i] = check.Present
			}
			if c.state[i] != check.Present {
				continue
			}
			if v := rapid.IntRange(0, 1).Draw(t, "value"); c.num != nil {
				c.num[i] = float64(v)
			} else {
				c.code[i] = int32(v)
			}
		}
		out[k] = c
	}
	return out
}
