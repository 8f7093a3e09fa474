// Package issue describes what is wrong in a file: which rule fired, how badly,
// at which file, table, row and column, and what the reader should do.
//
// It is a leaf: table, mapping, check and ingest report through it. It never
// decides what is wrong.
package issue

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Severity says what an issue does to the dataset.
type Severity uint8

// The three severities. An Error rejects the dataset whole; a Warning lets it
// stand and should be read; a Note states an assumption that was made.
const (
	Note Severity = iota
	Warning
	Error
)

// String returns note, warning or error, the words of the findings table.
func (s Severity) String() string {
	switch s {
	case Error:
		return "error"
	case Warning:
		return "warning"
	default:
		return "note"
	}
}

// Code is a stable, documented name of a rule, such as "unit.unknown".
type Code string

// Issue is one thing found at one place of an input file.
type Issue struct {
	Code     Code
	Severity Severity
	File     string // path below the dataset; "": the dataset itself
	Table    string // table of the data dictionary; "": not known
	Row      int64  // as a spreadsheet counts, header row = 1; in Arrow and Parquet the first record = 1; 0: the whole file
	Column   string // header as found in the file; "": the whole row
	Value    string // the offending text, at most 64 characters
	Message  string // what was found and what to do
}

// maxValue is the longest offending text that a finding carries, in characters.
const maxValue = 64

// Clip shortens an offending value to what a finding may carry and makes
// control characters visible.
func Clip(v string) string {
	v = strings.ToValidUTF8(v, "\uFFFD")
	v = strings.Map(func(r rune) rune {
		if r < 0x20 || r == 0x7f {
			return '\uFFFD'
		}
		return r
	}, v)
	if r := []rune(v); len(r) > maxValue {
		return string(r[:maxValue-1]) + "…"
	}
	return v
}

// Error starts with file:row, so that an editor can jump to the place.
func (i Issue) Error() string {
	var b strings.Builder
	b.WriteString(i.File)
	if i.Row > 0 {
		b.WriteString(":" + strconv.FormatInt(i.Row, 10))
	}
	if i.Column != "" {
		b.WriteString(" [" + i.Column + "]")
	}
	if b.Len() > 0 {
		b.WriteString(": ")
	}
	fmt.Fprintf(&b, "%s (%s)", i.Message, i.Code)
	return b.String()
}

// Cap is how many issues of one code a List keeps for one file; the rest are counted.
const Cap = 100

// List collects the issues of one dataset. It keeps at most Cap of one code in
// one file, and the earliest rows among them, so that what it holds does not
// depend on the order in which they were added. The zero value is ready.
// It is not safe for concurrent use.
type List struct {
	groups map[group]*kept
	errors int64
}

type group struct {
	code Code
	file string
}

type kept struct {
	issues []Issue
	total  int64
}

// Add records an issue; its Value is clipped.
func (l *List) Add(i Issue) {
	i.Value = Clip(i.Value)
	if i.Severity == Error {
		l.errors++
	}
	if l.groups == nil {
		l.groups = map[group]*kept{}
	}
	g := group{i.Code, i.File}
	k := l.groups[g]
	if k == nil {
		k = &kept{}
		l.groups[g] = k
	}
	k.total++
	k.issues = append(k.issues, i)
	if len(k.issues) >= 2*Cap {
		k.trim()
	}
}

// AddAll records every issue of another list, with its totals.
func (l *List) AddAll(other *List) {
	for g, k := range other.groups {
		for _, i := range k.issues {
			l.Add(i)
		}
		dropped := k.total - int64(len(k.issues))
		l.groups[g].total += dropped
		if dropped > 0 && k.issues[0].Severity == Error {
			l.errors += dropped
		}
	}
}

func (k *kept) trim() {
	slices.SortStableFunc(k.issues, compare)
	k.issues = k.issues[:min(Cap, len(k.issues))]
}

func compare(a, b Issue) int {
	return cmp.Or(
		cmp.Compare(a.File, b.File),
		cmp.Compare(a.Row, b.Row),
		cmp.Compare(a.Column, b.Column),
		cmp.Compare(a.Code, b.Code),
		cmp.Compare(a.Table, b.Table),
		cmp.Compare(a.Value, b.Value),
		cmp.Compare(a.Message, b.Message),
	)
}

// Errors returns how many issues reject the dataset, the dropped ones included.
func (l *List) Errors() int64 { return l.errors }

// All returns the kept issues in a fixed order: file, row, column, code. Where
// a code fired more often than Cap in a file, one more issue without a row states
// the total.
func (l *List) All() []Issue {
	var out []Issue
	for g, k := range l.groups {
		k.trim()
		out = append(out, k.issues...)
		if k.total > int64(len(k.issues)) {
			out = append(out, Issue{
				Code: g.code, Severity: k.issues[0].Severity, File: g.file, Table: k.issues[0].Table,
				Message: fmt.Sprintf("%d findings of this kind in all; the first %d are listed", k.total, len(k.issues)),
			})
		}
	}
	slices.SortStableFunc(out, compare)
	return out
}
