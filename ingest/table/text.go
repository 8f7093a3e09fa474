package table

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"

	"sheetwash/ingest/issue"
)

// TextOptions says how to read delimited text. The zero value recognises
// everything and sets no limit other than that of a record, 16 MiB. What is set
// is taken without a note; a byte-order mark outranks Encoding.
type TextOptions struct {
	Delimiter byte   // 0: recognised; ' ' stands for runs of blanks
	Decimal   byte   // decimal mark, '.' or ','; 0: recognised
	Encoding  string // "utf-8", "utf-16", "windows-1252"; "": recognised
	MaxField  int    // longest cell in bytes; 0: no limit
	MaxBytes  int64  // longest text in bytes, once expanded; 0: no limit

	blockSize int // bytes per batch; 0: 1 MiB
	headSize  int // bytes looked at to recognise delimiter and decimal mark; 0: 64 KiB
	maxRecord int // longest record in bytes; 0: 16 MiB
}

func (o TextOptions) withDefaults() TextOptions {
	if o.blockSize == 0 {
		o.blockSize = 1 << 20
	}
	if o.headSize == 0 {
		o.headSize = 64 << 10
	}
	if o.maxRecord == 0 {
		o.maxRecord = 16 << 20
	}
	return o
}

// ErrScanned is returned by a second Scan: text is read once.
var ErrScanned = errors.New("the table was read before")

// text is delimited text whose header has been read.
type text struct {
	file, name string
	opt        TextOptions
	closer     io.Closer
	src        source
	head       []byte // read, behind the header
	fields     []Field
	issues     issue.List
	delim, nl  byte
	row, line  int64 // of the first record behind the header
	comma      bool
	scanned    bool
}

// OpenText starts to read delimited text: it recognises compression (by the
// extension of file and by content), encoding, delimiter and decimal mark, and
// reads the header. Everything that was assumed or is wrong is in the table's
// Issues; a text without a header has no Fields.
//
// The bytes of r are read once and in order, never by two goroutines at a
// time, so that r may be standard input, a member of an archive, or a reader
// that hashes as it goes. name is the name of the table; "": the base name of
// file without extensions. Close closes r where it is an io.Closer.
//
// The error is for I/O.
func OpenText(file, name string, r io.Reader, opt TextOptions) (Table, error) {
	if name == "" {
		name = BaseName(file)
	}
	t := &text{file: file, name: strings.ToLower(name), opt: opt.withDefaults()}
	t.closer, _ = r.(io.Closer)
	t.src.stated = strings.ToLower(opt.Encoding)
	t.src.open(r, file, opt.MaxBytes)
	t.readHeader()
	if err := t.src.inputError(); err != nil {
		return nil, fmt.Errorf("read %s: %w", file, err)
	}
	return t, nil
}

// BaseName returns the last element of a path without its extensions, in lower
// case: plots for 2031/Plots.csv.gz.
func BaseName(file string) string {
	base := path.Base(strings.ReplaceAll(file, `\`, "/"))
	if i := strings.IndexByte(base, '.'); i > 0 {
		base = base[:i]
	}
	return strings.ToLower(base)
}

func (t *text) File() string        { return t.file }
func (t *text) Name() string        { return t.name }
func (t *text) Fields() []Field     { return t.fields }
func (t *text) Issues() *issue.List { return &t.issues }
func (t *text) DecimalComma() bool  { return t.comma }

func (t *text) Close() error {
	if t.closer == nil {
		return nil
	}
	return t.closer.Close()
}

func (t *text) report(f fault) {
	t.issues.Add(issue.Issue{Code: f.code, Severity: f.severe, File: t.file, Row: f.row, Column: f.column, Message: f.message})
}

// readHeader reads the head of the file up to and including the header.
func (t *text) readHeader() {
	head := make([]byte, t.opt.headSize)
	head = head[:t.src.fill(head)]
	t.noteEncoding()
	t.lineEnds(head)
	t.row, t.line = 1, 1
	at, declared := t.skipPreamble(&head)
	if at >= len(head) {
		t.noHeader()
		return
	}
	switch {
	case t.opt.Delimiter != 0:
		t.delim = t.opt.Delimiter
	case declared != 0:
		t.delim = declared
	default:
		t.delim = recogniseDelimiter(head[at:], t.nl, t.src.done)
		if t.delim != ',' {
			t.report(fault{code: CodeTextDelimiter, severe: issue.Note, message: "cells are taken to be separated by " + delimiterName(t.delim)})
		}
	}
	switch {
	case t.opt.Decimal != 0:
		t.comma = t.opt.Decimal == ','
	case t.delim != ',':
		t.recogniseDecimalMark(head[at:])
	}
	t.takeHeader(head, at)
}

func (t *text) noteEncoding() {
	if f, ok := encodingNote(t.src.enc); ok && !t.src.agreed {
		t.report(f)
	}
	byName := compressionByName(t.file)
	if t.src.packed != byName && t.src.failed == nil {
		t.report(fault{code: CodeFileCompressed, severe: issue.Note,
			message: fmt.Sprintf("the content is compressed (%s), though the name does not say so", t.src.packed)})
	}
}

// lineEnds takes a carriage return for the line end where there is no other.
func (t *text) lineEnds(head []byte) {
	t.nl = '\n'
	if i := bytes.IndexByte(head, '\r'); i >= 0 && i < len(head)-1 && bytes.IndexByte(head, '\n') < 0 {
		t.nl = '\r'
		t.report(fault{code: CodeTextLineEnds, severe: issue.Note, message: "lines are taken to end in a carriage return alone"})
	}
}

// noHeader reports why there is no header.
func (t *text) noHeader() {
	switch {
	case t.src.failed != nil:
		t.report(brokenOff(&t.src, t.row))
	default:
		t.report(fault{code: CodeFileEmpty, severe: issue.Error, message: "the file is empty: a header row with the names of the columns is needed"})
	}
}

// recogniseDecimalMark looks at the numbers of the head. Where both marks occur
// the commoner is taken, and cells with the other will be faults.
func (t *text) recogniseDecimalMark(head []byte) {
	seen := decimalMarks(head, t.delim, t.nl, t.src.done)
	if t.comma = seen.commas > seen.points; !t.comma {
		return
	}
	f := fault{code: CodeTextDecimalComma, severe: issue.Note, message: "numbers are taken to have a decimal comma"}
	if seen.grouped == seen.commas {
		f.severe = issue.Warning
		f.message += ", but all of them, such as 1,234, could also be thousands; state the decimal mark in the mapping"
	}
	t.report(f)
}
