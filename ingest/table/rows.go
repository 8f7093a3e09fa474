package table

import (
	"bytes"
	"fmt"
	"unicode/utf8"

	"sheetwash/ingest/issue"
)

const (
	quoteAdvice = "a quote stands inside a cell; put the whole cell in quotes and double the quotes within it"
	nulAdvice   = "the row holds a NUL byte; the file is damaged or not a text file"
)

// rows turns blocks into batches. It is used by one goroutine, which reuses its
// room for every block.
type rows struct {
	t       *text
	want    []int // indices of the columns that spans are kept of
	base    []int // per column: place among these; -1: not wanted
	careful parser

	pos   []uint32
	spans []Span
	at    []int32 // per row: record within the block; used where records were left out
	below []int32 // per row: line breaks within quoted cells above it in the block
}

func newRows(t *text, want []bool) *rows {
	r := &rows{t: t, careful: parser{delim: t.delim, nl: t.nl}, base: make([]int, len(t.fields))}
	wanted := 0
	for i := range t.fields {
		if want == nil || i < len(want) && want[i] {
			wanted++
		}
	}
	all := 2*wanted > len(t.fields) // leaving out a few costs more than it saves
	for i := range t.fields {
		r.base[i] = -1
		if want == nil || i < len(want) && want[i] {
			r.base[i] = len(r.want)
		}
		if all || r.base[i] >= 0 {
			r.want = append(r.want, i)
		}
	}
	return r
}

// batch cuts a block into cells, the fast way where it is in order throughout
// and the careful way otherwise.
func (r *rows) batch(b *block) *Batch {
	if r.fast(b) {
		base, shift := b.row, b.line-b.row
		var line func(i int) int64
		if shift != 0 {
			line = func(i int) int64 { return base + shift + int64(i) }
		}
		out := NewBatch(b.records, r.columns(b), func(i int) int64 { return base + int64(i) }, line)
		r.addFaults(out, b)
		return out
	}
	var issues issue.List
	embedded := r.slow(b, &issues)
	row, first := b.row, b.line
	at, below := r.at, r.below
	var line func(i int) int64
	if embedded || b.line != b.row {
		line = func(i int) int64 { return first + int64(at[i]) + int64(below[i]) }
	}
	out := NewBatch(len(r.at), r.columns(b), func(i int) int64 { return row + int64(at[i]) }, line)
	out.Issues = issues
	r.addFaults(out, b)
	return out
}

func (r *rows) addFaults(out *Batch, b *block) {
	for _, f := range b.faults {
		r.report(&out.Issues, f)
	}
}

func (r *rows) report(l *issue.List, f fault) {
	l.Add(issue.Issue{Code: f.code, Severity: f.severe, File: r.t.file, Row: f.row, Column: f.column, Message: f.message})
}

func (r *rows) columns(b *block) []Column {
	cols := make([]Column, len(r.base))
	for i, at := range r.base {
		if at >= 0 {
			cols[i] = Column{Kind: Text, Buf: b.buf, Spans: r.spans, Stride: len(r.want), Base: at}
		}
	}
	return cols
}

// fast handles blocks whose records all have the right number of cells, without
// quotes or with quotes around whole cells only: nearly all there are. It
// returns false for any other.
func (r *rows) fast(b *block) bool {
	if b.embedded || b.cutShort || r.t.delim == blanks || r.t.opt.MaxField > 0 && len(b.buf) > r.t.opt.MaxField && r.longLine(b.buf) {
		return false
	}
	if bytes.IndexByte(b.buf, 0) >= 0 || !validText(b.buf, b.enc) {
		return false
	}
	n, columns := len(b.buf), len(r.t.fields)
	data := b.buf[:cap(b.buf)]
	quotes := 0
	if b.quotes {
		r.pos, quotes = quotedPositions(r.pos[:0], data, n, r.t.delim, r.t.nl)
	} else {
		r.pos = delimiterPositions(r.pos[:0], data, n, r.t.delim, r.t.nl)
	}
	if !regular(r.pos, b.buf, b.records, columns, r.t.nl) {
		return false
	}
	var ok bool
	switch {
	case b.quotes:
		if r.spans, ok = cutQuoted(r.spans, r.pos, b.buf, columns, quotes); ok {
			r.pick(columns)
		}
	case len(r.want) == columns:
		r.spans, ok = cut(r.spans, r.pos, b.buf, columns, r.t.delim)
	default:
		r.spans, ok = cutWanted(r.spans, r.pos, b.buf, columns, r.want, r.t.delim)
	}
	return ok
}

// pick keeps the spans of the wanted columns.
func (r *rows) pick(columns int) {
	if len(r.want) == columns {
		return
	}
	kept := r.spans[:0]
	for k := 0; k+columns <= len(r.spans); k += columns {
		for _, c := range r.want {
			kept = append(kept, r.spans[k+c])
		}
	}
	r.spans = kept
}

// longLine reports whether a line is so long that a cell in it may be too long.
func (r *rows) longLine(buf []byte) bool {
	for len(buf) > r.t.opt.MaxField {
		i := bytes.LastIndexByte(buf[:r.t.opt.MaxField+1], r.t.nl)
		if i < 0 {
			return true
		}
		buf = buf[i+1:]
	}
	return false
}

// slow takes record by record and leaves out the faulty ones, with an issue, and
// the blank ones. It reports whether quoted cells hold line breaks.
func (r *rows) slow(b *block, issues *issue.List) (embedded bool) {
	r.spans, r.at, r.below = r.spans[:0], r.at[:0], r.below[:0]
	below := int32(0)
	for at, k := 0, 0; at < len(b.buf); k++ {
		rec := r.careful.record(b.buf, at)
		whole := b.buf[at:rec.next]
		at = rec.next
		f, bad := r.verdict(b, rec, whole)
		switch {
		case bad:
			f.severe, f.row = issue.Error, b.row+int64(k)
			if line := b.line + int64(k) + int64(below); line != f.row {
				f.message += fmt.Sprintf(" (line %d of the file)", line)
			}
			r.report(issues, f)
		case r.careful.blankRecord(b.buf):
		default:
			for _, c := range r.want {
				r.spans = append(r.spans, r.careful.cells[c])
			}
			r.at = append(r.at, int32(k))
			r.below = append(r.below, below)
		}
		below += int32(rec.breaks)
	}
	return below > 0
}

// verdict says what is wrong with a record, if anything.
func (r *rows) verdict(b *block, rec parsed, whole []byte) (fault, bool) {
	column := ""
	if rec.column < len(r.t.fields) {
		column = r.t.fields[rec.column].Name
	}
	switch {
	case rec.fault == unclosedQuote:
		return fault{code: CodeUnclosedQuote, column: column, message: "a quote that opens in this row is not closed where the cell ends; close it, or double the quotes within the cell"}, true
	case b.cutShort:
		return fault{code: CodeRecordTooLong, message: fmt.Sprintf("the row is longer than %d bytes; is this a text file?", r.t.opt.maxRecord)}, true
	case bytes.IndexByte(whole, 0) >= 0:
		return fault{code: CodeTextNUL, message: nulAdvice}, true
	case !validText(whole, b.enc):
		return fault{code: CodeTextEncoding, message: "the row holds bytes that do not fit the encoding of the rest, " + b.enc.String() + "; save the whole file as UTF-8"}, true
	case rec.fault == bareQuote:
		return fault{code: CodeBareQuote, column: column, message: quoteAdvice}, true
	case r.careful.blankRecord(b.buf):
		return fault{}, false
	case len(r.careful.cells) != len(r.t.fields):
		return fault{code: CodeRagged, message: fmt.Sprintf("the row has %d cells and the header %d; add or remove delimiters", len(r.careful.cells), len(r.t.fields))}, true
	}
	if limit := r.t.opt.MaxField; limit > 0 {
		for i, s := range r.careful.cells {
			if int(s.End-s.Start) > limit {
				return fault{code: CodeFieldTooLong, column: r.t.fields[i].Name, message: fmt.Sprintf("the cell is longer than %d bytes", limit)}, true
			}
		}
	}
	return fault{}, false
}

// validText reports whether decoded text is sound. What UTF-16 could not decode
// stands as a replacement character.
func validText(b []byte, e encoding) bool {
	switch e {
	case ascii, windows1252:
		return true
	case utf16LE, utf16BE:
		return !bytes.Contains(b, []byte("\uFFFD"))
	}
	return utf8.Valid(b)
}
