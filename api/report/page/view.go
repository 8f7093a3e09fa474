package page

import (
	"fmt"
	"html/template"
	"io"
	"slices"
	"strings"

	"sheetwash/analysis/result"
	"sheetwash/api/report/figure"
)

// document is what the templates see of a page.
type document struct {
	Title    string
	Kicker   string // the line above the heading
	Heading  string
	Lines    []phrase // below the heading
	Nav      []phrase
	Sections []section
	Flags    []result.FlagWord // that occur on the page
	Folds    []fold
	Short    bool // some numbers have no fold-out
	Foreign  bool // the fold-outs are in other units than the page
	Frame    Frame
	Colophon []phrase
	Style    template.CSS
}

// section is a part of a page under a heading.
type section struct {
	ID, Heading string
	Intro       []phrase // paragraphs
	Sentences   []phrase // in large letters
	Items       []phrase // a list
	Charts      []chart
	Side        bool // charts stand side by side
	Pair        bool // two and two
	Tables      []table
	Facts       []definition
	Cautions    []phrase
	Parts       []section // under headings of their own
}

// definition is a term with what is known of it.
type definition struct {
	Term string
	Text phrase
}

// chart is a picture with its title, a sentence that tells it, and its numbers.
type chart struct {
	ID      string
	Title   string
	Summary phrase
	Picture template.HTML
	Table   table
	figure  *figure.Figure
}

// table is a table with row headings in its first column.
type table struct {
	ID      string
	Caption string
	Head    []string
	Rows    [][]phrase
	Wide    bool
	Folded  bool // behind a summary line
}

// draw makes the picture of a chart.
func (c *chart) draw(f *figure.Figure) error {
	var b strings.Builder
	if err := f.Inline(&b, c.ID+"-title "+c.ID+"-told"); err != nil {
		return fmt.Errorf("draw %s: %w", c.ID, err)
	}
	c.figure, c.Summary = f, c.Summary.bare()
	c.Picture = template.HTML(b.String()) // figure escapes every text of it
	return nil
}

// swatch is the marker of a treatment for lists; empty where there is no such
// treatment.
func (s *Site) swatch(treatment string) template.HTML {
	look, ok := s.looks[treatment]
	var b strings.Builder
	if !ok || figure.Swatch(look).Decoration(&b) != nil {
		return ""
	}
	return template.HTML(b.String()) // it holds no text
}

// flagsOf collects the flags of rows for the list at the end of a page.
type flagsOf map[string]bool

func (f flagsOf) add(flags result.Flags) string {
	for _, w := range flags {
		f[result.WordOf(w)] = true
	}
	return flags.String()
}

func (f flagsOf) list() []result.FlagWord {
	return slices.DeleteFunc(slices.Clone(result.FlagWords()), func(w result.FlagWord) bool { return !f[w.Word] })
}

// write renders a document.
func write(w io.Writer, d *document) error {
	d.Style = style
	return templates.ExecuteTemplate(w, "document", d)
}
