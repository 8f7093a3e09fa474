package table

import (
	"bytes"
	"fmt"
	"strings"

	"sheetwash/ingest/issue"
)

// mostColumns is the most columns that a table may have, those of a spreadsheet.
const mostColumns = 16384

// skipPreamble passes over what may stand above the header: blank lines, a block
// of lines that begin with #, and the line "sep=;" with which spreadsheets
// state a delimiter. It returns where the header starts and that delimiter, 0 if
// none is stated, and reads on where the head ends before.
func (t *text) skipPreamble(head *[]byte) (at int, declared byte) {
	comments := 0
	for {
		line, whole := t.headLine(head, at)
		if !whole && len(line) == 0 {
			break
		}
		trimmed := bytes.TrimRight(line, "\r")
		switch {
		case len(trimmed) > 0 && trimmed[0] == '#':
			comments++
		case declared == 0 && len(trimmed) == 5 && strings.EqualFold(string(trimmed[:4]), "sep="):
			declared = trimmed[4]
		case len(bytes.Trim(trimmed, " \t")) > 0:
			t.noteComments(comments)
			return at, declared
		}
		t.row++
		t.line++
		if !whole {
			at = len(*head)
			break
		}
		at += len(line) + 1
	}
	t.noteComments(comments)
	return at, declared
}

func (t *text) noteComments(n int) {
	if n > 0 {
		t.report(fault{code: CodeTextComment, severe: issue.Note, message: fmt.Sprintf("%d lines above the header begin with # and were passed over", n)})
	}
}

// headLine returns the line that starts at head[at:], without its end, and
// whether it has one; it reads more where it must.
func (t *text) headLine(head *[]byte, at int) (line []byte, whole bool) {
	for {
		if i := bytes.IndexByte((*head)[at:], t.nl); i >= 0 {
			return (*head)[at : at+i], true
		}
		if !t.more(head, at) {
			return (*head)[at:], false
		}
	}
}

// more reads a further stretch of the head; false at the end of the text, or
// where what starts at from is longer than a record may be.
func (t *text) more(head *[]byte, from int) bool {
	if t.src.done || len(*head)-from >= t.opt.maxRecord {
		return false
	}
	n := len(*head)
	grown := make([]byte, 2*n+t.opt.headSize)
	copy(grown, *head)
	*head = grown[:n+t.src.fill(grown[n:])]
	return true
}

// takeHeader reads the header record at head[at:] and keeps what follows it.
func (t *text) takeHeader(head []byte, at int) {
	p := parser{delim: t.delim, nl: t.nl}
	for {
		rec := p.record(bytes.Clone(head), at)
		if !rec.unterminated || !t.more(&head, at) {
			break
		}
	}
	rec := p.record(head, at)
	switch {
	case rec.fault == unclosedQuote:
		t.report(fault{code: CodeUnclosedQuote, severe: issue.Error, row: t.row, message: "a quote in the header is not closed"})
		return
	case rec.unterminated && !t.src.done:
		t.report(fault{code: CodeRecordTooLong, severe: issue.Error, row: t.row, message: "the header does not end; is this a text file?"})
		return
	case len(p.cells) > mostColumns:
		t.report(fault{code: CodeRecordTooLong, severe: issue.Error, row: t.row,
			message: fmt.Sprintf("the header has %d cells; a table has at most %d columns", len(p.cells), mostColumns)})
		return
	case rec.fault == bareQuote:
		t.report(fault{code: CodeBareQuote, severe: issue.Error, row: t.row, message: quoteAdvice})
	}
	if bytes.IndexByte(head[at:rec.next], 0) >= 0 {
		t.report(fault{code: CodeTextNUL, severe: issue.Error, row: t.row, message: nulAdvice})
	}
	if rec.unterminated && t.src.failed != nil {
		t.report(brokenOff(&t.src, t.row))
	}
	t.fields = make([]Field, len(p.cells))
	for i, s := range p.cells {
		name := strings.ToValidUTF8(string(head[s.Start:s.End]), "\uFFFD")
		t.fields[i].Name = strings.TrimSpace(name)
	}
	t.checkNames()
	t.line += int64(1 + rec.breaks)
	t.row++
	t.head = head[rec.next:]
}

// checkNames reports columns that share a name or have none.
func (t *text) checkNames() {
	first := map[string]int{}
	var unnamed []string
	for i, f := range t.fields {
		if f.Name == "" {
			unnamed = append(unnamed, fmt.Sprint(i+1))
			continue
		}
		if j, ok := first[f.Name]; ok {
			t.report(fault{code: CodeHeaderDuplicate, severe: issue.Error, row: t.row, column: f.Name,
				message: fmt.Sprintf("columns %d and %d have the same name; rename one", j+1, i+1)})
			continue
		}
		first[f.Name] = i
	}
	if len(unnamed) > 0 {
		t.report(fault{code: CodeHeaderUnnamed, severe: issue.Note, row: t.row,
			message: "columns without a name are left unused: " + strings.Join(unnamed[:min(20, len(unnamed))], ", ")})
	}
}
