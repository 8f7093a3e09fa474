package ingest

import (
	"cmp"
	"context"
	"fmt"
	"time"

	"sheetwash/ingest/check"
	"sheetwash/ingest/issue"
	"sheetwash/ingest/mapping"
	"sheetwash/ingest/schema"
	"sheetwash/ingest/table"
)

// builder gathers the decoded chunks of one table of the data dictionary.
type builder struct {
	frame *check.Frame
	codes map[*check.Column]map[string]int32
	later []waiting
}

// waiting is a time cell of a frame that needs the start of its run.
type waiting struct {
	row    int
	column string
	text   string
	rule   *decoder
}

func newBuilder(name string) *builder {
	return &builder{frame: check.NewFrame(name), codes: map[*check.Column]map[string]int32{}}
}

// feed is one Bound on its way into a builder.
type feed struct {
	bound    *mapping.Bound
	into     *builder
	decoders []*decoder
	local    []int // per decoder: stamps without an offset
}

// begin opens a new part of the frame for a bound's rows.
func (b *builder) begin(f *feed) {
	part := check.Part{File: f.bound.Source.File(), First: b.frame.N, Shown: map[string]check.Shown{}}
	for i, d := range f.decoders {
		name := f.bound.Bindings[i].Name
		shown := check.Shown{Header: f.bound.Bindings[i].Header}
		if !d.same && (d.kind == schema.Number || d.kind == schema.Time) {
			if back, err := d.b.Canonical.To(d.b.Unit); err == nil {
				shown.Back = back.Apply
			}
		}
		part.Shown[name] = shown
		if b.frame.Column(name) == nil {
			c := &check.Column{Name: name, Kind: d.kind, Open: f.bound.Bindings[i].Column == nil, Unit: d.b.Unit.String()}
			if d.kind == schema.Word {
				c.Words = d.b.Column.Words
			}
			b.frame.Add(c)
		}
	}
	b.frame.Parts = append(b.frame.Parts, part)
}

// append adds the rows of one chunk.
func (b *builder) append(f *feed, rows, lines []int64, cols []cells) {
	first := b.frame.N
	b.frame.Row = append(b.frame.Row, rows...)
	if lines != nil {
		b.frame.Line = append(grow(b.frame.Line, first), lines...)
	}
	b.frame.N += len(rows)
	for i, c := range cols {
		col := b.frame.Column(f.bound.Bindings[i].Name)
		b.extend(col, first, c, len(rows))
		f.local[i] += c.local
		for _, l := range c.later {
			b.later = append(b.later, waiting{row: first + l.row, column: col.Name, text: l.text, rule: f.decoders[i]})
		}
	}
	for _, col := range b.frame.Columns {
		pad(col, b.frame.N)
	}
}

// extend appends cells to a column, after padding it to the chunk's first row.
func (b *builder) extend(col *check.Column, first int, c cells, n int) {
	pad(col, first)
	col.State = append(col.State, c.state...)
	switch col.Kind {
	case schema.Number, schema.Time, schema.Bool:
		col.Num = append(col.Num, c.num...)
		if c.u != nil || col.U != nil {
			col.U = append(grow(col.U, first), c.u...)
			col.U = grow(col.U, first+n)
		}
	case schema.Stamp:
		col.Stamp = append(col.Stamp, c.stamp...)
	case schema.Word:
		col.Code = append(col.Code, c.code...)
	default:
		b.intern(col, c)
	}
}

// intern appends the codes of a chunk, translated to those of the column.
func (b *builder) intern(col *check.Column, c cells) {
	codes := b.codes[col]
	if codes == nil {
		codes = map[string]int32{}
		b.codes[col] = codes
	}
	local := make([]int32, len(c.words))
	for k, w := range c.words {
		code, ok := codes[w]
		if !ok {
			code = int32(len(col.Words))
			col.Words = append(col.Words, w)
			codes[w] = code
		}
		local[k] = code
	}
	for i, code := range c.code {
		if c.state[i] == check.Present {
			code = local[code]
		}
		col.Code = append(col.Code, code)
	}
}

// pad fills a column with absent cells up to n rows.
func pad(col *check.Column, n int) {
	if len(col.State) >= n {
		return
	}
	col.State = grow(col.State, n)
	switch col.Kind {
	case schema.Number, schema.Time, schema.Bool:
		col.Num = grow(col.Num, n)
		if col.U != nil {
			col.U = grow(col.U, n)
		}
	case schema.Stamp:
		col.Stamp = grow(col.Stamp, n)
	default:
		col.Code = grow(col.Code, n)
	}
}

func grow[T any](s []T, n int) []T {
	for len(s) < n {
		var zero T
		s = append(s, zero)
	}
	return s
}

// scanner decodes the tables of one dataset into frames.
type scanner struct {
	workers int
	maxRows int64
	zone    *time.Location
	issues  *issue.List
	rows    int64 // of all files, each counted once
}

// scan reads one opened table once and feeds every bound that it stands for.
func (s *scanner) scan(ctx context.Context, source table.Table, feeds []*feed) error {
	want := make([]bool, len(source.Fields()))
	for _, f := range feeds {
		for i, w := range f.bound.Want() {
			want[i] = want[i] || w
		}
		for i := range f.bound.Bindings {
			d, err := newDecoder(&f.bound.Bindings[i], source, cmp.Or(f.bound.Zone, s.zone))
			if err != nil {
				return err
			}
			f.decoders = append(f.decoders, d)
		}
		f.local = make([]int, len(f.decoders))
		f.into.begin(f)
	}
	work := func(b *table.Batch) any {
		c := &chunk{rows: make([]int64, b.N), cols: make([][]cells, len(feeds))}
		c.issues.AddAll(&b.Issues)
		for i := range c.rows {
			c.rows[i] = b.Row(i)
			if l := b.Line(i); l > 0 && l != c.rows[i] {
				c.lines = append(grow(c.lines, i), l)
			}
		}
		for k, f := range feeds {
			for _, d := range f.decoders {
				c.cols[k] = append(c.cols[k], d.decode(b, &c.issues))
			}
		}
		return c
	}
	tooLarge := false
	commit := func(r any) {
		c := r.(*chunk)
		s.issues.AddAll(&c.issues)
		s.rows += int64(len(c.rows))
		for k, f := range feeds {
			if int64(f.into.frame.N+len(c.rows)) > s.maxRows {
				tooLarge = true
				continue
			}
			f.into.append(f, c.rows, c.lines, c.cols[k])
		}
	}
	if err := source.Scan(ctx, table.ScanOptions{Workers: s.workers, Want: want}, work, commit); err != nil {
		return err
	}
	s.noteZones(source, feeds)
	if tooLarge {
		s.issues.Add(issue.Issue{Code: TableTooLarge, Severity: issue.Error, File: source.File(), Table: feeds[0].bound.Table.Name,
			Message: "the table has more rows than are allowed: split the dataset, and put logger readings into a table of readings"})
	}
	return nil
}

// noteZones notes the columns whose stamps were taken to be in UTC.
func (s *scanner) noteZones(source table.Table, feeds []*feed) {
	for _, f := range feeds {
		for i, n := range f.local {
			if n > 0 {
				s.issues.Add(issue.Issue{Code: StampZone, Severity: issue.Note, File: source.File(), Table: f.bound.Table.Name, Column: f.decoders[i].header(),
					Message: fmt.Sprintf("%d stamps have no offset from UTC and are taken to be in UTC: add the offset, or timezone in analysis.yaml or mapping.yaml", n)})
			}
		}
	}
}
