package mapping

import (
	"bytes"
	"context"
	"slices"
	"strings"

	"sheetwash/ingest/issue"
	"sheetwash/ingest/table"
	"sheetwash/ingest/units"
)

// joined is a table with the columns of another file, looked up by a key. The
// other file stands in memory; this one is still scanned in batches.
type joined struct {
	table.Table
	fields  []table.Field
	keys    []int // key fields of the table below
	rows    map[string]int32
	columns [][]string // per added field: the text of every row, then "" for no row
	name    string     // of the joined file, for findings
	feeds   string     // table of the dictionary
}

// join opens the other file of a join and returns the joined table; the table
// as it was where the join is faulty.
func (o *opener) join(ctx context.Context, s *Source, j Join, here table.Table, used map[string]bool) (table.Table, error) {
	found := o.matching(j.File)
	if len(found) == 0 {
		o.fault(j.Line, NoSuchFile, s.Table, "", "no file of the dataset is called %q%s", j.File, didYouMean(j.File, o.files.Names()))
		return here, nil
	}
	at := j.Location
	at.File = found[0]
	there, err := o.open(ctx, at, s.Table)
	if err != nil {
		return nil, err
	}
	defer there.Close()
	if there.Issues().Errors() > 0 {
		return here, nil
	}
	var keys, theirs []int
	for _, k := range j.On {
		a, okA := o.field(here.Fields(), k.Here, j.Line, s.Table)
		b, okB := o.field(there.Fields(), k.There, j.Line, s.Table)
		if !okA || !okB {
			return here, nil
		}
		keys, theirs = append(keys, a), append(theirs, b)
		used[here.Fields()[a].Name] = true
		o.seen[at].read[there.Fields()[b].Name] = true
	}
	out := &joined{Table: here, keys: keys, name: there.File(), feeds: s.Table, fields: slices.Clone(here.Fields())}
	if err := o.load(ctx, out, there, theirs); err != nil {
		return nil, err
	}
	o.claim(s, out, there, theirs, o.seen[at].read)
	return out, nil
}

// claim notes which columns of the joined file the source names: they are read.
func (o *opener) claim(s *Source, j *joined, there table.Table, theirs []int, read map[string]bool) {
	named := map[string]bool{}
	note := func(header string) { named[units.Normalise(header)] = true }
	for _, r := range s.Columns {
		note(r.From)
		for _, p := range r.Compose {
			note(p.Header)
		}
	}
	for _, h := range s.Covariates {
		note(h)
	}
	for _, c := range append(slices.Clone(s.Where), s.Skip...) {
		note(c.Header)
	}
	added := j.fields[len(j.Table.Fields()):]
	k := 0
	for i, f := range there.Fields() {
		if slices.Contains(theirs, i) {
			continue
		}
		if named[units.Normalise(added[k].Name)] {
			read[f.Name] = true
		}
		k++
	}
}

// load reads the other file into memory.
func (o *opener) load(ctx context.Context, j *joined, there table.Table, theirs []int) error {
	var added []int
	for i, f := range there.Fields() {
		if slices.Contains(theirs, i) {
			continue
		}
		added = append(added, i)
		name := f.Name
		if slices.ContainsFunc(j.fields, func(x table.Field) bool { return x.Name == name }) {
			name = there.Name() + "." + f.Name
		}
		j.fields = append(j.fields, table.Field{Name: name, Unit: f.Unit})
	}
	j.columns = make([][]string, len(added))
	j.rows = map[string]int32{}
	comma := there.DecimalComma() != j.Table.DecimalComma()
	type part struct {
		keys   []string
		rows   []int64
		cells  [][]string
		issues *issue.List
	}
	return there.Scan(ctx, table.ScanOptions{Workers: 1}, func(b *table.Batch) any {
		p := part{cells: make([][]string, len(added)), issues: &b.Issues}
		for i := range b.N {
			p.keys = append(p.keys, keyOf(b, theirs, i))
			p.rows = append(p.rows, b.Row(i))
			for k, f := range added {
				text := string(appendCell(nil, &b.Cols[f], i))
				if comma {
					text = otherMark(text, there.DecimalComma())
				}
				p.cells[k] = append(p.cells[k], text)
			}
		}
		return p
	}, func(x any) {
		p := x.(part)
		o.issues.AddAll(p.issues)
		for i, key := range p.keys {
			if _, twice := j.rows[key]; twice {
				o.issues.Add(issue.Issue{
					Code: JoinKey, Severity: issue.Error, File: j.name, Table: j.feeds, Row: p.rows[i], Column: there.Fields()[theirs[0]].Name,
					Value: strings.ReplaceAll(key, keyMark, ", "), Message: "the key of the join stands in more than one row; it must identify one",
				})
				continue
			}
			j.rows[key] = int32(len(j.rows))
			for k := range added {
				j.columns[k] = append(j.columns[k], p.cells[k][i])
			}
		}
	})
}

// otherMark writes a number with the other decimal mark; other text stays.
func otherMark(text string, comma bool) string {
	if _, err := units.Number(text, comma); err != nil {
		return text
	}
	if comma {
		return strings.Replace(text, ",", ".", 1)
	}
	return strings.Replace(text, ".", ",", 1)
}

// keyMark separates the parts of a key.
const keyMark = "\x1f"

func keyOf(b *table.Batch, fields []int, i int) string {
	var key []byte
	for k, f := range fields {
		if k > 0 {
			key = append(key, keyMark...)
		}
		key = append(key, bytes.TrimSpace(appendCell(nil, &b.Cols[f], i))...)
	}
	return string(key)
}

// Fields returns the fields below, then those of the other file.
func (j *joined) Fields() []table.Field { return j.fields }

// Scan scans the table below and adds the columns of the row with the same
// key. A key that the other file lacks is a warning, and its cells are empty.
func (j *joined) Scan(ctx context.Context, opt table.ScanOptions, work func(*table.Batch) any, commit func(any)) error {
	below := len(j.Table.Fields())
	if opt.Want != nil {
		opt.Want = wanted(opt.Want[:below], below, j.keys...)
	}
	words := make([][]string, len(j.columns))
	for k, c := range j.columns {
		words[k] = append(slices.Clone(c), "")
	}
	return j.Table.Scan(ctx, opt, func(b *table.Batch) any {
		codes := make([]int32, b.N)
		for i := range codes {
			key := keyOf(b, j.keys, i)
			row, ok := j.rows[key]
			if !ok {
				row = int32(len(j.rows))
				warn(b, JoinKey, j.File(), j.feeds, b.Row(i), j.fields[j.keys[0]].Name, strings.ReplaceAll(key, keyMark, ", "),
					"no row of "+j.name+" has this key; what the join adds is empty here")
			}
			codes[i] = row
		}
		cols := slices.Clone(b.Cols)
		for k := range words {
			cols = append(cols, table.Column{Kind: table.Dict, Codes: codes, Words: words[k]})
		}
		return work(rebatch(b, all(b.N), cols))
	}, commit)
}
