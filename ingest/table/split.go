package table

import (
	"bytes"
	"errors"
	"fmt"

	"sheetwash/ingest/issue"
)

// block is a stretch of whole records.
type block struct {
	buf       []byte // len: the records; readable for stride bytes more
	seq       int
	row, line int64 // number of the first record, and of the line that it starts on
	records   int   // blank ones included
	quotes    bool
	embedded  bool // line ends within quotes
	enc       encoding
	cutShort  bool // the last record is too long to be held; it is not whole
	faults    []fault
}

// fault is an issue that the divider met, without file and table.
type fault struct {
	code    issue.Code
	severe  issue.Severity
	row     int64
	column  string
	message string
}

// divider cuts the text into blocks at record boundaries. What it cuts depends
// on the text alone, not on how fast the blocks are taken.
type divider struct {
	src       *source
	delim, nl byte
	size      int // bytes per block, as far as records allow
	maxRecord int
	carry     []byte // start of a record that was not whole
	seq       int
	row, line int64
	noted     encoding // last reported
	ended     bool
}

// next fills a block. It returns false when there is nothing more; the last
// block may hold faults and no records.
func (d *divider) next(b *block) bool {
	if d.ended {
		return false
	}
	b.seq, b.row, b.line = d.seq, d.row, d.line
	b.faults, b.cutShort = b.faults[:0], false
	d.seq++
	n := d.load(b)
	whole := d.boundary(b, n)
	for whole.end == 0 && !d.src.done && n < d.maxRecord {
		n = d.extend(b, n)
		whole = d.boundary(b, n)
	}
	switch {
	case whole.end == 0 && !d.src.done:
		b.cutShort, d.ended = true, true
		whole = records{end: n, count: 1}
	case d.src.done:
		d.ended = true
		d.finish(b, n, &whole)
	default:
		d.carry = append(d.carry[:0], b.buf[whole.end:n]...)
	}
	b.buf = b.buf[:whole.end]
	b.records = whole.count
	b.quotes = whole.quotes
	b.embedded = whole.lines != whole.count
	b.enc = d.src.enc
	if d.src.enc != d.noted {
		d.noted = d.src.enc
		if f, ok := encodingNote(d.noted); ok {
			b.faults = append(b.faults, f)
		}
	}
	d.row += int64(whole.count)
	d.line += int64(whole.lines)
	return true
}

// load puts what was carried over and new text into the block.
func (d *divider) load(b *block) int {
	need := max(d.size, 2*len(d.carry))
	if cap(b.buf) < need+stride || cap(b.buf) > 4*(need+stride) {
		b.buf = make([]byte, need+stride)
	}
	b.buf = b.buf[:need]
	n := copy(b.buf, d.carry)
	d.carry = d.carry[:0]
	return n + d.src.fill(b.buf[n:])
}

// extend doubles a block that does not hold one whole record.
func (d *divider) extend(b *block, n int) int {
	grown := make([]byte, 2*len(b.buf)+stride)
	copy(grown, b.buf[:n])
	b.buf = grown[:2*len(b.buf)]
	return n + d.src.fill(b.buf[n:])
}

// finish closes the last block: a record without a line end is whole, unless
// the text broke off there. A line end is put behind it.
func (d *divider) finish(b *block, n int, whole *records) {
	if d.src.failed != nil {
		b.faults = append(b.faults, brokenOff(d.src, d.row+int64(whole.count)))
		return
	}
	if n > whole.end {
		b.buf = append(b.buf[:n], d.nl)
		if cap(b.buf) < n+1+stride {
			b.buf = append(b.buf, make([]byte, stride)...)
		}
		whole.end = n + 1
		whole.count++
		whole.lines = bytes.Count(b.buf[:n+1], []byte{d.nl})
		whole.quotes = whole.quotes || bytes.IndexByte(b.buf[:n], '"') >= 0
	}
}

// records is what a stretch holds up to its last boundary.
type records struct {
	end    int // one past the last line end outside quotes; 0: none
	count  int // line ends outside quotes, up to end
	lines  int // line ends in all, up to end
	quotes bool
}

// boundary finds the last record boundary in the block. A quote opens a cell
// only behind a delimiter or a line end, as in parser.record.
func (d *divider) boundary(b *block, n int) records {
	data := b.buf[:n]
	if bytes.IndexByte(data, '"') < 0 {
		end := bytes.LastIndexByte(data, d.nl) + 1
		lines := bytes.Count(data[:end], []byte{d.nl})
		return records{end: end, count: lines, lines: lines}
	}
	if d.delim != blanks {
		if out, ok := parityBoundary(b.buf[:cap(b.buf)], n, d.delim, d.nl); ok {
			out.lines = bytes.Count(data[:out.end], []byte{d.nl})
			return out
		}
	}
	out := d.followQuotes(data)
	out.lines = bytes.Count(data[:out.end], []byte{d.nl})
	return out
}

// followQuotes finds the last record boundary quote by quote.
func (d *divider) followQuotes(data []byte) records {
	n := len(data)
	out := records{quotes: true}
	outside := 0 // start of the stretch outside quotes
	for i := 0; ; {
		q := bytes.IndexByte(data[i:], '"')
		if q < 0 {
			out.stretch(data, outside, n, d.nl)
			break
		}
		q += i
		if !d.opens(data, q) {
			i = q + 1
			continue
		}
		out.stretch(data, outside, q, d.nl)
		end := closing(data, q+1)
		if end < 0 || end+1 == n && !d.src.done {
			break
		}
		outside, i = end+1, end+1
	}
	return out
}

func (d *divider) opens(data []byte, q int) bool {
	if q == 0 {
		return true
	}
	c := data[q-1]
	return c == d.delim || c == d.nl || c == '\t' && d.delim == blanks
}

// closing returns the place of the quote that closes a cell whose content
// starts at i, or -1.
func closing(data []byte, i int) int {
	for {
		k := bytes.IndexByte(data[i:], '"')
		if k < 0 {
			return -1
		}
		i += k
		if i+1 < len(data) && data[i+1] == '"' {
			i += 2
			continue
		}
		return i
	}
}

// stretch takes the line ends of data[from:to], all outside quotes.
func (r *records) stretch(data []byte, from, to int, nl byte) {
	n := countByte(data[from:to], nl)
	if n == 0 {
		return
	}
	r.count += n
	for i := to - 1; i >= from; i-- {
		if data[i] == nl {
			r.end = i + 1
			return
		}
	}
}

// brokenOff says why the text ended early, at the first row that is not whole.
func brokenOff(src *source, row int64) fault {
	if errors.Is(src.failed, errLimit) {
		return fault{code: CodeFileTooLarge, severe: issue.Error, row: row,
			message: "the text is longer than the limit; split the file"}
	}
	return fault{code: CodeFileCompressed, severe: issue.Error, row: row,
		message: fmt.Sprintf("the compressed data are damaged or cut off from this row on (%v); copy or compress the file again", src.failed)}
}

// encodingNote states an encoding other than plain UTF-8.
func encodingNote(e encoding) (fault, bool) {
	switch e {
	case utf8Mark, utf16LE, utf16BE:
		return fault{code: CodeTextEncoding, severe: issue.Note, message: "read as " + e.String()}, true
	case windows1252:
		return fault{code: CodeTextEncoding, severe: issue.Note,
			message: "read as Windows-1252, since it is not UTF-8; save as UTF-8 if letters look wrong"}, true
	}
	return fault{}, false
}
