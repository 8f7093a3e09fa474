package table

import "bytes"

// parser finds the cells of records. It is the careful way, which handles
// quotes, and whose verdicts the fast way (positions.go) must share.
type parser struct {
	delim, nl byte
	cells     []Span // of the last record, unquoted
}

// recordFault says what is wrong with the quoting of a record.
type recordFault uint8

const (
	recordOK recordFault = iota
	bareQuote
	unclosedQuote
)

// parsed describes one record.
type parsed struct {
	next         int         // where the next record starts
	fault        recordFault // the first that was met
	column       int         // of the fault
	breaks       int         // line breaks within quoted cells
	unterminated bool        // ended by the end of the data
}

// record finds the cells of the record that starts at data[at]. A quoted cell
// with doubled quotes is made shorter in place.
//
// A quote opens a cell only as its first byte. After a closing quote, and in a
// cell that did not open with one, quotes are ordinary characters and a fault;
// the divider into blocks keeps to the same rule.
func (p *parser) record(data []byte, at int) parsed {
	out := parsed{}
	p.cells = p.cells[:0]
	i := at
	for {
		if p.delim == blanks {
			i = skipBlanks(data, i)
			if len(p.cells) > 0 && p.endsRecord(data, i) {
				return p.end(data, i, out)
			}
		}
		var cell Span
		if i < len(data) && data[i] == '"' {
			cell, i = p.quoted(data, i, &out)
		} else {
			cell, i = p.unquoted(data, i, &out)
		}
		p.cells = append(p.cells, cell)
		if i >= len(data) || data[i] == p.nl {
			return p.end(data, i, out)
		}
		i++
	}
}

func skipBlanks(data []byte, i int) int {
	for i < len(data) && (data[i] == ' ' || data[i] == '\t') {
		i++
	}
	return i
}

// endsRecord reports whether nothing but a line end, or nothing at all, follows.
func (p *parser) endsRecord(data []byte, i int) bool {
	return i >= len(data) || data[i] == p.nl || data[i] == '\r' && (i+1 == len(data) || data[i+1] == p.nl)
}

// end closes a record at the line end or the end of the data, and takes a
// carriage return off its last cell.
func (p *parser) end(data []byte, i int, out parsed) parsed {
	if i < len(data) && data[i] != p.nl { // a carriage return before the line end
		i++
	}
	out.next, out.unterminated = i+1, i >= len(data)
	if out.unterminated {
		out.next = len(data)
	}
	if last := &p.cells[len(p.cells)-1]; last.End > last.Start && data[last.End-1] == '\r' && int(last.End) == i {
		last.End--
	}
	return out
}

// unquoted returns the cell that starts at i and where it ends.
func (p *parser) unquoted(data []byte, i int, out *parsed) (Span, int) {
	start := i
	for ; i < len(data); i++ {
		c := data[i]
		if c == p.nl || c == p.delim || c == '\t' && p.delim == blanks {
			break
		}
		if c == '"' {
			p.note(out, bareQuote)
		}
	}
	end := i
	return Span{uint32(start), uint32(end)}, i
}

// quoted returns the content of the quoted cell that opens at i and where the
// cell ends.
func (p *parser) quoted(data []byte, i int, out *parsed) (Span, int) {
	start := i + 1
	doubled := false
	j := start
	for {
		k := bytes.IndexByte(data[j:], '"')
		if k < 0 {
			p.note(out, unclosedQuote)
			out.breaks += bytes.Count(data[start:], []byte{p.nl})
			return Span{uint32(start), uint32(len(data))}, len(data)
		}
		j += k
		if j+1 < len(data) && data[j+1] == '"' {
			doubled = true
			j += 2
			continue
		}
		break
	}
	breaks := countByte(data[start:j], p.nl)
	out.breaks += breaks
	cell := Span{uint32(start), uint32(j)}
	if doubled {
		cell.End = cell.Start + uint32(undouble(data[start:j]))
	}
	j++
	if p.endsRecord(data, j) {
		if j < len(data) && data[j] != p.nl {
			j++
		}
		return cell, j
	}
	if j < len(data) && data[j] != p.delim && !(data[j] == '\t' && p.delim == blanks) {
		if breaks > 0 {
			p.note(out, unclosedQuote) // what closed it most likely opens a later cell
		} else {
			p.note(out, bareQuote)
		}
		_, j = p.unquoted(data, j, &parsed{fault: bareQuote})
	}
	return cell, j
}

func (p *parser) note(out *parsed, f recordFault) {
	if out.fault == recordOK {
		out.fault, out.column = f, len(p.cells)
	}
}

// blankRecord reports whether every cell of the last record is empty or blank.
func (p *parser) blankRecord(data []byte) bool {
	for _, s := range p.cells {
		for _, c := range data[s.Start:s.End] {
			if c != ' ' && c != '\t' && c != '\r' {
				return false
			}
		}
	}
	return true
}

// countByte counts c in b; most cells are too short to be worth a call.
func countByte(b []byte, c byte) int {
	if len(b) > 32 {
		return bytes.Count(b, []byte{c})
	}
	n := 0
	for _, x := range b {
		if x == c {
			n++
		}
	}
	return n
}

// undouble replaces doubled quotes by single ones and returns the new length;
// the bytes left over become quotes.
func undouble(b []byte) int {
	w := 0
	for r := 0; r < len(b); r++ {
		b[w] = b[r]
		w++
		if b[r] == '"' {
			r++
		}
	}
	for i := w; i < len(b); i++ {
		b[i] = '"'
	}
	return w
}
