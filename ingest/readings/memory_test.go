package readings

import (
	"context"
	"strconv"
	"strings"
	"sync"
	"testing"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/ingest/issue"
	"sheetwash/ingest/mapping"
	"sheetwash/ingest/schema"
	"sheetwash/ingest/table"
)

// memory is a table held in memory, in batches of any size and columns of any kind.
type memory struct {
	fields  []table.Field
	batches []*table.Batch
	comma   bool
	issues  issue.List
}

func (m *memory) File() string          { return "day/readings" }
func (m *memory) Name() string          { return "readings" }
func (m *memory) Fields() []table.Field { return m.fields }
func (m *memory) Issues() *issue.List   { return &m.issues }
func (m *memory) DecimalComma() bool    { return m.comma }
func (m *memory) Close() error          { return nil }

func (m *memory) Scan(ctx context.Context, opt table.ScanOptions, work func(*table.Batch) any, commit func(any)) error {
	results := make([]any, len(m.batches))
	next := make(chan int)
	var wg sync.WaitGroup
	for range max(1, opt.Workers) {
		wg.Go(func() {
			for i := range next {
				results[i] = work(m.batches[i])
			}
		})
	}
	for i := range m.batches {
		next <- i
	}
	close(next)
	wg.Wait()
	for _, r := range results {
		commit(r)
	}
	return ctx.Err()
}

// textTable makes a table of text columns from CSV, size rows to a batch. The
// cells hold no commas and no quotes.
func textTable(csv string, size int, comma bool) *memory {
	delim := ","
	if comma {
		delim = ";"
	}
	lines := strings.Split(strings.TrimSpace(csv), "\n")
	m := &memory{comma: comma}
	for _, h := range strings.Split(lines[0], delim) {
		m.fields = append(m.fields, table.Field{Name: h})
	}
	for from := 1; from < len(lines); from += size {
		to := min(from+size, len(lines))
		m.batches = append(m.batches, textBatch(lines[from:to], len(m.fields), delim, int64(from)+1))
	}
	return m
}

func textBatch(lines []string, columns int, delim string, row int64) *table.Batch {
	var buf []byte
	var spans []table.Span
	for _, l := range lines {
		for _, c := range strings.Split(l, delim) {
			start := uint32(len(buf))
			buf = append(buf, c...)
			spans = append(spans, table.Span{Start: start, End: uint32(len(buf))})
		}
	}
	cols := make([]table.Column, columns)
	for c := range cols {
		cols[c] = table.Column{Kind: table.Text, Buf: buf, Spans: spans, Stride: columns, Base: c}
	}
	return table.NewBatch(len(lines), cols, func(i int) int64 { return row + int64(i) }, nil)
}

// bind binds the columns that have a name of the data dictionary or of a
// channel; unit is that of the time.
func bind(m table.Table, unit string) *mapping.Bound {
	readings, _ := schema.Find("readings")
	b := &mapping.Bound{Table: readings, Source: m}
	for i, f := range m.Fields() {
		column, ok := readings.Column(f.Name)
		code, isChannel := schema.ChannelUnit(f.Name)
		if !ok && !isChannel {
			continue
		}
		one := mapping.Binding{Table: readings.Name, Name: f.Name, Column: column, Source: i, Header: f.Name}
		switch {
		case isChannel:
			one.Channel, one.Numeric = f.Name, true
			one.Canonical = quantity.MustParse(code)
			if one.Unit = one.Canonical; f.Unit != "" {
				one.Unit = quantity.MustParse(f.Unit)
				if one.Unit.Dimension() == quantity.VolumeRate {
					one.Canonical = quantity.MustParse("mL/min")
				}
			}
			b.Wide = true
		case f.Name == "time":
			one.Numeric, one.Unit, one.Canonical = true, quantity.MustParse(unit), quantity.MustParse("min")
		}
		b.Bindings = append(b.Bindings, one)
	}
	return b
}

// unitFor knows UCUM codes.
func unitFor(channel experiment.Channel, unit string) (conv quantity.Conversion, volumeRate, ok bool) {
	code, _ := schema.ChannelUnit(channel.String())
	to := quantity.MustParse(code)
	if unit == "" {
		return must(to.To(to)), false, true
	}
	from, err := quantity.Parse(unit)
	if err != nil {
		return conv, false, false
	}
	if from.Dimension() == quantity.VolumeRate {
		to, volumeRate = quantity.MustParse("mL/min"), true
	}
	conv, err = from.To(to)
	return conv, volumeRate, err == nil
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// reduce reduces and fails the test on an error.
func reduce(t *testing.T, b *mapping.Bound, opt Options) *Reduced {
	t.Helper()
	if opt.Unit == nil {
		opt.Unit = unitFor
	}
	out, err := Reduce(context.Background(), b, opt)
	if err != nil {
		t.Fatalf("Reduce: %v", err)
	}
	return out
}

// places lists the issues as code@row:column.
func places(l *issue.List) []string {
	var out []string
	for _, i := range l.All() {
		s := string(i.Code)
		if i.Row > 0 {
			s += "@" + strconv.FormatInt(i.Row, 10)
		}
		if i.Column != "" {
			s += ":" + i.Column
		}
		out = append(out, s)
	}
	return out
}
