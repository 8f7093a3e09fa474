package page

import (
	"html/template"
	"slices"
	"strings"

	"sheetwash/api/report/words"
)

// part is a stretch of text: words, a number of the results, or a link.
type part struct {
	Text string
	Key  string // of the row that the number stands in; "": words
	Col  string // its column
	Unit string // in which it is written
	Said bool   // rounded as it is spoken, not by its uncertainty
	Fact bool   // what was noted or counted, not a result
	Code bool   // words of the flags column
	Href string
	Open string        // entry of the page that shows how it came about
	Bare bool          // opens nothing: running text that a chart refers to
	Name bool          // of a treatment
	Mark template.HTML // its marker
	Line bool          // in a line of its own, smaller
}

// phrase is text in parts.
type phrase []part

// String is the text without marks.
func (p phrase) String() string {
	var b strings.Builder
	for _, q := range p {
		b.WriteString(q.Text)
	}
	return b.String()
}

func say(text string) phrase  { return phrase{{Text: text}} }
func fact(text string) phrase { return phrase{{Text: text, Fact: true}} }

func code(text string) phrase { return phrase{{Text: text, Code: text != ""}} }

// facts joins what was noted; each is kept apart from its neighbours, whichever way
// it is written.
func facts(texts ...string) phrase {
	var out phrase
	for i, t := range texts {
		if i > 0 {
			out = append(out, part{Text: " · "})
		}
		out = append(out, part{Text: t, Fact: true})
	}
	return out
}

// bare is the phrase without derivations, for the sentence of a chart, whose numbers
// stand in its table.
func (p phrase) bare() phrase {
	out := slices.Clone(p)
	for i := range out {
		out[i].Bare = true
	}
	return out
}

// join puts phrases behind each other.
func join(all ...phrase) phrase {
	var out phrase
	for _, p := range all {
		out = append(out, p...)
	}
	return out
}

// to makes a phrase a link where there is a page.
func (s *Site) to(t Target, text string) phrase {
	return phrase{{Text: text, Href: s.link(t)}}
}

// said turns a sentence into a phrase that names its rows.
func said(sentence words.Sentence) phrase {
	var out phrase
	for _, q := range sentence {
		p := part{Text: q.Text, Name: q.Name}
		if q.Row != nil {
			p.Key, p.Col, p.Unit, p.Said = q.Row.Key(), q.Column, q.Unit, true
		}
		out = append(out, p)
	}
	return out
}
