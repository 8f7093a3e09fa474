package ingest

import (
	"time"

	"sheetwash/analysis/quantity"
	"sheetwash/ingest/check"
	"sheetwash/ingest/issue"
	"sheetwash/ingest/mapping"
	"sheetwash/ingest/schema"
	"sheetwash/ingest/table"
	"sheetwash/ingest/units"
)

// cells is the decoded cells of one column in one batch.
type cells struct {
	state []check.State
	num   []float64
	u     []float64 // standard uncertainty of a class; nil: there was none
	code  []int32
	words []string
	stamp []time.Time
	later []laterCell
	local int // stamps without an offset
}

// laterCell is a time that needs the start of a run which is not yet known.
type laterCell struct {
	row  int
	text string
}

// chunk is the decoded cells of one batch, on its way from a worker to the frames.
type chunk struct {
	rows   []int64
	lines  []int64   // where a line differs from its row; nil: nowhere
	cols   [][]cells // per bound, per binding
	bytes  int       // of the text it was read from; 0: not known
	issues issue.List
}

// decoder turns the cells of one binding into numbers, words or stamps. It is
// shared by the workers and not written after newDecoder.
type decoder struct {
	b        *mapping.Binding
	kind     schema.Kind
	file     string
	comma    bool
	zone     *time.Location
	convert  quantity.Conversion
	same     bool // convert changes nothing
	num, den float64
	linear   bool
	slow     units.Decoder // of cells that are no plain number
	happens  bool          // the word none means that it did not happen
}

func newDecoder(b *mapping.Binding, source table.Table, zone *time.Location) (*decoder, error) {
	d := &decoder{b: b, kind: schema.Text, file: source.File(), comma: source.DecimalComma(), zone: zone, same: true}
	if b.Column != nil {
		d.kind = b.Column.Kind
	} else if b.Numeric && b.Table != "plots" {
		d.kind = schema.Number
	}
	if d.kind != schema.Number && d.kind != schema.Time {
		return d, nil
	}
	c, err := b.Unit.To(b.Canonical)
	if err != nil {
		return nil, err
	}
	d.convert, d.same = c, c.Identity()
	d.num, d.den, d.linear = c.Linear()
	if d.slow, err = units.NewDecoder(b.Unit, b.Canonical, d.comma); err != nil {
		return nil, err
	}
	if b.Column != nil && b.Table == "plots" && (b.Name == "runoff_start" || b.Name == "ponding_start") {
		d.happens = true
	}
	return d, nil
}

// canonical converts a number of the file.
func (d *decoder) canonical(v float64) float64 {
	switch {
	case d.same:
		return v
	case d.linear:
		return v * d.num / d.den
	default:
		return d.convert.Apply(v)
	}
}

// rule says how the time cells of the column are read.
func (d *decoder) rule() units.TimeRule {
	return units.TimeRule{Unit: d.b.Unit, Clock: d.b.Clock, DecimalComma: d.comma}
}

// decode decodes the binding's cells of one batch. Findings go to into.
func (d *decoder) decode(b *table.Batch, into *issue.List) cells {
	out := cells{state: make([]check.State, b.N)}
	switch d.kind {
	case schema.Number, schema.Time:
		out.num = make([]float64, b.N)
		d.numbers(b, &out, into)
	case schema.Bool:
		out.num = make([]float64, b.N)
		d.texts(b, &out, d.putBool, into)
	case schema.Stamp:
		out.stamp = make([]time.Time, b.N)
		d.texts(b, &out, d.putStamp, into)
	case schema.Word:
		out.code = make([]int32, b.N)
		out.words = d.b.Column.Words
		d.texts(b, &out, d.putWord, into)
	default:
		out.code = make([]int32, b.N)
		in := interner{cells: &out}
		d.texts(b, &out, in.put, into)
	}
	return out
}

// fault adds a finding at row i of a batch.
func (d *decoder) fault(b *table.Batch, i int, code issue.Code, value, message string, into *issue.List) {
	into.Add(issue.Issue{
		Code: code, Severity: issue.Error, File: d.file, Table: d.b.Table,
		Row: b.Row(i), Column: d.header(), Value: value, Message: atLine(b, i, message),
	})
}

func (d *decoder) header() string {
	if d.b.Header != "" {
		return d.b.Header
	}
	return d.b.Name
}
