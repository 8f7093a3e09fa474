package mapping

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"sheetwash/ingest/issue"
	"sheetwash/ingest/table"
)

// typed is a table with a column of every kind, as from a typed file, in
// batches of two rows.
type typed struct{ fields []string }

func (typed) File() string        { return "t.parquet" }
func (typed) Name() string        { return "t" }
func (typed) Issues() *issue.List { return &issue.List{} }
func (typed) DecimalComma() bool  { return false }
func (typed) Close() error        { return nil }
func (t typed) Fields() []table.Field {
	var out []table.Field
	for _, f := range t.fields {
		out = append(out, table.Field{Name: f})
	}
	return out
}

func (typed) Scan(_ context.Context, opt table.ScanOptions, work func(*table.Batch) any, commit func(any)) error {
	for k := range 3 {
		n := []int{2 * k, 2*k + 1}
		cols := []table.Column{
			{Kind: table.Text, Buf: fmt.Appendf(nil, "t%dt%d", n[0], n[1]), Spans: []table.Span{{Start: 0, End: 2}, {}, {Start: 2, End: 4}, {}}, Stride: 2},
			{Kind: table.Dict, Codes: []int32{0, 1}, Words: []string{"even", "odd"}},
			{Kind: table.Float, Float: []float64{float64(n[0]) / 2, float64(n[1]) / 2}, Null: []bool{k == 1, false}},
			{Kind: table.Int, Int: []int64{int64(n[0]), int64(n[1])}},
			{Kind: table.Bool, Bool: []bool{true, false}},
		}
		for i := range cols {
			if opt.Want != nil && !opt.Want[i] {
				cols[i] = table.Column{Kind: cols[i].Kind}
			}
		}
		commit(work(table.NewBatch(2, cols, func(i int) int64 { return int64(n[i] + 1) }, nil)))
	}
	return nil
}

func scanAll(t *testing.T, tab table.Table, want []bool) string {
	t.Helper()
	var out []string
	err := tab.Scan(t.Context(), table.ScanOptions{Workers: 1, Want: want}, func(b *table.Batch) any {
		var rows []string
		for i := range b.N {
			row := fmt.Sprint(b.Row(i))
			for k := range b.Cols {
				if want == nil || want[k] {
					row += "," + string(appendCell(nil, &b.Cols[k], i))
				}
			}
			rows = append(rows, row)
		}
		return rows
	}, func(x any) { out = append(out, x.([]string)...) })
	if err != nil {
		t.Fatal(err)
	}
	return strings.Join(out, " ")
}

// Filters, unpivots and joins keep the values of every kind of column, with
// and without a choice of the wanted ones.
func TestAdaptersOnTypedColumns(t *testing.T) {
	tab := typed{[]string{"a", "b", "v_1", "v_2", "ok"}}
	filter := &filtered{Table: tab, skip: []fieldCondition{{field: 3, words: map[string]bool{"1": true, "4": true}}}}
	if got, want := scanAll(t, filter, nil), "1,t0,even,0,0,true 3,t2,even,,2,true 4,t3,odd,1.5,3,false 6,t5,odd,2.5,5,false"; got != want {
		t.Errorf("filtered:\n got  %s\n want %s", got, want)
	}
	if got, want := scanAll(t, filter, []bool{true, false, false, false, false}), "1,t0 3,t2 4,t3 6,t5"; got != want {
		t.Errorf("filtered, one column wanted:\n got  %s\n want %s", got, want)
	}
	m, issues := Parse([]byte("tables: {samples: {file: t.parquet, unpivot: {columns: '^v_(?P<k>.)$', value: v}, columns: {run: a}}}"), "m")
	if m == nil {
		t.Fatal(issues.All())
	}
	u, _ := newUnpivoted(tab, m.Sources[0].Unpivot)
	const long = "1,t0,even,true,1,0 1,t0,even,true,2,0 2,t1,odd,false,1,0.5 2,t1,odd,false,2,1 3,t2,even,true,2,2 4,t3,odd,false,1,1.5 4,t3,odd,false,2,3 " +
		"5,t4,even,true,1,2 5,t4,even,true,2,4 6,t5,odd,false,1,2.5 6,t5,odd,false,2,5"
	if got := scanAll(t, u, nil); got != long {
		t.Errorf("unpivoted:\n got  %s\n want %s", got, long)
	}
	if got, want := scanAll(t, u, []bool{false, false, false, false, true}), "1,0 1,0 2,0.5 2,1 3,2 4,1.5 4,3 5,2 5,4 6,2.5 6,5"; got != want {
		t.Errorf("unpivoted, values wanted:\n got  %s\n want %s", got, want)
	}
	j := &joined{Table: tab, keys: []int{1}, rows: map[string]int32{"odd": 0}, columns: [][]string{{"yes"}}, fields: append(tab.Fields(), table.Field{Name: "more"})}
	if got, want := scanAll(t, j, []bool{true, false, false, false, false, true}), "1,t0, 2,t1,yes 3,t2, 4,t3,yes 5,t4, 6,t5,yes"; got != want {
		t.Errorf("joined:\n got  %s\n want %s", got, want)
	}
}

// Every code has one entry, with a meaning and an advice.
func TestCatalogue(t *testing.T) {
	seen := map[issue.Code]bool{}
	for _, e := range Catalogue() {
		if seen[e.Code] || e.Code == "" || e.Meaning == "" || e.Advice == "" {
			t.Errorf("entry %+v", e)
		}
		seen[e.Code] = true
	}
}
