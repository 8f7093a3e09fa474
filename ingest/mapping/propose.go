package mapping

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"strings"

	"sheetwash/ingest/schema"
	"sheetwash/ingest/table"
)

// Proposal is a mapping guessed from headers, units and values.
type Proposal struct {
	Map     *Map
	Tables  []TableGuess // one per source of the Map, in the same order
	Unnamed []string     // headers for which no role was found
}

// TableGuess is one source of a proposal and how sure it is.
type TableGuess struct {
	Table      string
	Confidence float64       // 0 to 1: the share of what the table requires that was found, weighted by its certainty
	Columns    []ColumnGuess // one per rule of the source, in the same order
	Missing    []string      // required columns for which nothing was found
}

// ColumnGuess is how sure a proposal is of one column, and why.
type ColumnGuess struct {
	Name, Header string
	Confidence   float64 // 0 to 1
	Why          string
}

// Sure, Likely and Guess are the lowest confidences that deserve the name; less
// than Guess is not proposed.
const (
	Sure   = 0.85
	Likely = 0.6
	Guess  = 0.4
)

// Word returns sure, likely or guess.
func (c ColumnGuess) Word() string {
	switch {
	case c.Confidence >= Sure:
		return "sure"
	case c.Confidence >= Likely:
		return "likely"
	}
	return "guess"
}

// sampleRows is how many rows a proposal looks at.
const sampleRows = 200

// ProposeTable proposes a mapping for an opened table from its headers and its
// first 200 rows. The error is for I/O and ctx.
func ProposeTable(ctx context.Context, t table.Table) (*Proposal, error) {
	inner, stop := context.WithCancel(ctx)
	defer stop()
	var rows [][]string
	err := t.Scan(inner, table.ScanOptions{Workers: 1}, func(b *table.Batch) any {
		var out [][]string
		for i := range min(b.N, sampleRows) {
			row := make([]string, len(b.Cols))
			for k := range b.Cols {
				row[k] = string(appendCell(nil, &b.Cols[k], i))
			}
			out = append(out, row)
		}
		return out
	}, func(x any) {
		rows = append(rows, x.([][]string)...)
		if len(rows) >= sampleRows {
			stop()
		}
	})
	if err != nil && (ctx.Err() != nil || !errors.Is(err, context.Canceled)) {
		return nil, err
	}
	return Propose(t.File(), t.Fields(), rows[:min(len(rows), sampleRows)], t.DecimalComma()), nil
}

// Propose proposes which table of the data dictionary a file feeds, and with
// which columns, from its fields and some of its rows (cells by field). Where it
// finds the columns of several tables, as in a joined sheet, it proposes a source
// for each. A proposal is to be read and corrected by a person: Render says
// beside each column how sure it is and why.
func Propose(file string, fields []table.Field, rows [][]string, decimalComma bool) *Proposal {
	columns := make([]sampled, len(fields))
	for i, f := range fields {
		columns[i] = sample(f, i, rows, decimalComma)
	}
	var guesses []guessed
	for _, t := range schema.Tables() {
		guesses = append(guesses, guessTable(&t, columns))
	}
	p := &Proposal{Map: &Map{}}
	named := map[string]bool{}
	for _, g := range settle(choose(guesses)) {
		p.add(file, g, columns, named)
	}
	for _, f := range fields {
		if !named[f.Name] && strings.TrimSpace(f.Name) != "" {
			p.Unnamed = append(p.Unnamed, f.Name)
		}
	}
	p.Map.Missing = missingIn(columns)
	return p
}

// guessed is one table with its best columns.
type guessed struct {
	table   *schema.Table
	matches []match
	score   float64 // of the required columns, 0 to 1
	share   float64 // of the file's columns that it uses, each weighted by its certainty
	own     int     // required columns besides the keys that were found
}

// match is a column of the dictionary and the field proposed for it.
type match struct {
	target target
	field  int
	score  float64
	why    string
}

// guessTable gives each column of a table the field that suits it best: the
// best pair first, then the best of what is left.
func guessTable(t *schema.Table, columns []sampled) guessed {
	g := guessed{table: t}
	var pairs []match
	for _, n := range names(t) {
		c, ok := findTarget(t, n)
		if !ok {
			continue
		}
		for i := range columns {
			if score, why := fit(c, &columns[i]); score >= Guess {
				pairs = append(pairs, match{c, i, score, why})
			}
		}
	}
	slices.SortStableFunc(pairs, func(a, b match) int { return cmp.Compare(b.score, a.score) })
	column, field := map[string]bool{}, map[int]bool{}
	for _, m := range pairs {
		if !column[m.target.name] && !field[m.field] {
			column[m.target.name], field[m.field] = true, true
			g.matches = append(g.matches, m)
		}
	}
	g.rate(len(columns))
	return g
}

// rate scores a table by what it requires and by how many of the fields it uses.
// The keys count half: a file about one plot often does not name it.
func (g *guessed) rate(fields int) {
	required, sum := 0.0, 0.0
	for _, n := range needs(g.table) {
		weight := 1.0
		if n[0] == "run" || n[0] == "plot" {
			weight = 0.5
		}
		required += weight
		for _, m := range g.matches {
			if slices.Contains(n, m.target.name) {
				sum += weight * m.score
				if weight == 1 {
					g.own++
				}
				break
			}
		}
	}
	g.score = sum / required
	for _, m := range g.matches {
		g.share += m.score / float64(fields)
	}
}

// needs returns what a table cannot do without: per need the columns that
// satisfy it.
func needs(t *schema.Table) [][]string {
	var out [][]string
	for _, c := range t.Columns {
		if c.Required && c.Name != "stream" { // often one stream, in no column
			out = append(out, []string{c.Name})
		}
	}
	switch t.Name {
	case "samples":
		out = append(out, []string{"volume", "gross_mass", "sediment_mass", "sediment_gross_mass", "concentration"})
	case "cans":
		out = append(out, []string{"depth", "volume"})
	case "readings":
		channels := []string{"channel"}
		for _, c := range t.Columns {
			if c.Name == "channel" {
				channels = append(channels, c.Words...)
			}
		}
		out = append(out, channels)
	}
	return out
}

// choose returns the tables to propose: the one that uses most of the file and
// finds most of what it requires, and beside it those that a joined sheet may
// hold as well.
func choose(all []guessed) []guessed {
	best := -1
	for i, g := range all {
		if g.share >= minShare && (best < 0 || g.score+g.share > all[best].score+all[best].share) {
			best = i
		}
	}
	if best < 0 {
		return nil
	}
	var out []guessed
	for i, g := range all {
		joined := g.table.Name == "runs" || g.table.Name == "plots" || g.table.Name == "samples"
		main := all[best].table.Name
		if i == best || joined && g.own > 0 && g.score >= Likely && main != "cans" && main != "readings" {
			out = append(out, g)
		}
	}
	return out
}

// settle leaves a field that several tables claim to the one that it suits best;
// the keys run and plot go to each.
func settle(chosen []guessed) []guessed {
	best := map[int]float64{}
	for _, g := range chosen {
		for _, m := range g.matches {
			best[m.field] = max(best[m.field], m.score)
		}
	}
	for i := range chosen {
		chosen[i].matches = slices.DeleteFunc(chosen[i].matches, func(m match) bool {
			return m.target.name != "run" && m.target.name != "plot" && m.score < best[m.field]
		})
	}
	return chosen
}

// minShare is the least share of a file's columns that a table must use to be proposed.
const minShare = 0.25

// add turns a guessed table into a source of the proposal.
func (p *Proposal) add(file string, g guessed, columns []sampled, named map[string]bool) {
	order := names(g.table)
	slices.SortStableFunc(g.matches, func(a, b match) int {
		return cmp.Compare(slices.Index(order, a.target.name), slices.Index(order, b.target.name))
	})
	s := Source{Table: g.table.Name, Location: Location{File: file}}
	guess := TableGuess{Table: g.table.Name, Confidence: g.score}
	found := map[string]bool{}
	for _, m := range g.matches {
		found[m.target.name] = true
		c := &columns[m.field]
		named[c.field.Name] = true
		r := Rule{Name: m.target.name, From: c.field.Name, Translate: c.translation(m.target)}
		if m.target.numeric() && c.unitCode != "" {
			r.Unit, r.HasUnit = c.unitFor(m.target)
		}
		s.Columns = append(s.Columns, r)
		guess.Columns = append(guess.Columns, ColumnGuess{Name: m.target.name, Header: c.field.Name, Confidence: m.score, Why: m.why})
	}
	for _, c := range g.table.Columns {
		if c.Required && !found[c.Name] {
			guess.Missing = append(guess.Missing, c.Name)
		}
	}
	p.Map.Sources = append(p.Map.Sources, s)
	p.Tables = append(p.Tables, guess)
}
