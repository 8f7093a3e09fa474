package ingest

import (
	"cmp"
	"context"
	"fmt"
	"slices"
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
	joint *repeats // nil: no file feeds this table and another
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
	joint    bool  // the rows feed another table too
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

// append adds the rows of one chunk; of a joined table, those that say something new.
func (b *builder) append(f *feed, rows, lines []int64, cols []cells) {
	first := b.frame.N
	columns := make([]*check.Column, len(cols))
	for i := range cols {
		f.local[i] += cols[i].local
		columns[i] = b.frame.Column(f.bound.Bindings[i].Name)
		b.intern(columns[i], &cols[i])
	}
	if f.joint && b.joint != nil {
		keep := b.joint.news(first, columns, cols, len(rows))
		if lines != nil {
			lines = picked(grow(lines, len(rows)), keep)
		}
		rows = picked(rows, keep)
		for i := range cols {
			cols[i] = cols[i].pick(keep)
		}
	}
	if lines != nil {
		b.frame.Line = append(grow(b.frame.Line, first), lines...)
	}
	for _, row := range rows {
		b.frame.AddRow(row)
	}
	for i, c := range cols {
		extend(columns[i], first, c, len(rows))
		for _, l := range c.later {
			b.later = append(b.later, waiting{row: first + l.row, column: columns[i].Name, text: l.text, rule: f.decoders[i]})
		}
	}
	for _, col := range b.frame.Columns {
		pad(col, b.frame.N)
	}
}

// reserve makes room for n more rows, so that the columns of a large table need
// neither grow nor be copied. What is not used stays untouched memory.
func (b *builder) reserve(n int) {
	if b.joint != nil {
		return // most of its rows are left out
	}
	for _, col := range b.frame.Columns {
		reserve(col, b.frame.N+n)
	}
}

func reserve(col *check.Column, n int) {
	switch col.Kind {
	case schema.Number, schema.Time, schema.Bool:
		col.Num = slices.Grow(col.Num, n-len(col.Num))
	case schema.Stamp:
		col.Stamp = slices.Grow(col.Stamp, n-len(col.Stamp))
	default:
		col.Code = slices.Grow(col.Code, n-len(col.Code))
	}
}

// extend appends cells to a column, after padding it to the chunk's first row.
func extend(col *check.Column, first int, c cells, n int) {
	pad(col, first)
	if col.State != nil || slices.ContainsFunc(c.state, func(s check.State) bool { return s != check.Present }) {
		col.State = append(col.States(), c.state...)
	}
	switch col.Kind {
	case schema.Number, schema.Time, schema.Bool:
		col.Num = append(col.Num, c.num...)
		if c.u != nil || col.U != nil {
			col.U = append(grow(col.U, first), c.u...)
			col.U = grow(col.U, first+n)
		}
	case schema.Stamp:
		col.Stamp = append(col.Stamp, c.stamp...)
	default:
		col.Code = append(col.Code, c.code...)
	}
}

// intern translates the codes of a chunk's texts to those of the column.
func (b *builder) intern(col *check.Column, c *cells) {
	if col.Kind != schema.Text {
		return
	}
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
			c.code[i] = local[code]
		}
	}
}

// pad fills a column with absent cells up to n rows.
func pad(col *check.Column, n int) {
	if col.Len() >= n {
		return
	}
	col.State = grow(col.States(), n)
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
	sizes   map[string]int64 // bytes of each file on disk
	rows    int64            // of all files, each counted once
}

// expected returns about how many rows a file has of which the first chunk is
// known: 0 where that cannot be told, and never more than four million.
func (s *scanner) expected(file string, c *chunk) int {
	const most = 4 << 20
	if c.bytes == 0 || len(c.rows) == 0 || s.sizes[file] < 4*int64(c.bytes) {
		return 0
	}
	n := float64(s.sizes[file]) / float64(c.bytes) * float64(len(c.rows))
	return int(min(1.05*n, most, float64(s.maxRows)))
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
		if f.joint = len(feeds) > 1; f.joint && f.into.joint == nil {
			f.into.joint = newRepeats(f.bound.Table.Name)
		}
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
		for i := range b.Cols {
			c.bytes = max(c.bytes, len(b.Cols[i].Buf))
		}
		for k, f := range feeds {
			for _, d := range f.decoders {
				c.cols[k] = append(c.cols[k], d.decode(b, &c.issues))
			}
		}
		return c
	}
	tooLarge, first := false, true
	commit := func(r any) {
		c := r.(*chunk)
		if first {
			for _, f := range feeds {
				f.into.reserve(s.expected(source.File(), c))
			}
			first = false
		}
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
