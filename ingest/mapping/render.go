package mapping

import (
	"bytes"
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode"

	"go.yaml.in/yaml/v3"

	"sheetwash/ingest/schema"
)

// Render writes the proposal as a mapping.yaml, with a comment beside each
// column that says how sure it is and why, and one for every required column
// that was not found. What it writes is read back by Parse.
func (p *Proposal) Render() []byte {
	root := &yaml.Node{Kind: yaml.MappingNode}
	root.HeadComment = "Proposed from headers, units and values: read every line before you use it.\nsure, likely and guess say how certain each one is."
	if len(p.Map.Missing) > 0 {
		list := &yaml.Node{Kind: yaml.SequenceNode, Style: yaml.FlowStyle}
		for _, w := range slices.Sorted(maps.Keys(p.Map.Missing)) {
			list.Content = append(list.Content, word(w))
		}
		put(root, "missing", list, "words found among numbers; what they mean is for you to say")
	}
	tables := &yaml.Node{Kind: yaml.MappingNode}
	for i, s := range p.Map.Sources {
		n := p.renderSource(&s, &p.Tables[i])
		put(tables, s.Table, n, "")
	}
	put(root, "tables", tables, "")
	if len(p.Unnamed) > 0 {
		root.FootComment = "not used: " + oneLine(strings.Join(p.Unnamed, ", "))
	}
	if len(p.Map.Sources) == 0 {
		root.FootComment = "no table of the data dictionary was recognised; " + root.FootComment
		tables.Style = yaml.FlowStyle
	}
	var b bytes.Buffer
	enc := yaml.NewEncoder(&b)
	enc.SetIndent(2)
	if err := enc.Encode(root); err != nil {
		return []byte("# " + oneLine(err.Error()) + "\n") // an encoder of nodes that we made has nothing to refuse
	}
	_ = enc.Close()
	return b.Bytes()
}

func (p *Proposal) renderSource(s *Source, g *TableGuess) *yaml.Node {
	n := &yaml.Node{Kind: yaml.MappingNode}
	put(n, "file", word(s.File), fmt.Sprintf("%.0f %% of what %s need was found", 100*g.Confidence, s.Table))
	columns := &yaml.Node{Kind: yaml.MappingNode}
	for i, r := range s.Columns {
		c := g.Columns[i]
		put(columns, r.Name, renderRule(&r), c.Word()+": "+c.Why)
	}
	put(n, "columns", columns, "")
	if len(g.Missing) > 0 {
		t, _ := schema.Find(s.Table)
		lines := []string{"required and not found; name a header below, or write a constant such as"}
		for _, name := range g.Missing {
			lines = append(lines, "  "+name+": "+exampleConstant(t, name))
		}
		n.Content[len(n.Content)-2].HeadComment = strings.Join(lines, "\n")
	}
	return n
}

func exampleConstant(t *schema.Table, name string) string {
	c, ok := t.Column(name)
	if !ok {
		return "{constant: }"
	}
	if c.Default != "" {
		return fmt.Sprintf("{constant: %s, unit: %s}", c.Example, c.Default)
	}
	return fmt.Sprintf("{constant: %s}", c.Example)
}

// renderRule writes a rule as a header, or as keys where it says more.
func renderRule(r *Rule) *yaml.Node {
	if !r.HasUnit && r.Translate == nil {
		return word(r.From)
	}
	n := &yaml.Node{Kind: yaml.MappingNode, Style: yaml.FlowStyle}
	put(n, "from", word(r.From), "")
	if r.HasUnit {
		put(n, "unit", word(r.Unit.String()), "")
	}
	if r.Translate != nil {
		words := &yaml.Node{Kind: yaml.MappingNode, Style: yaml.FlowStyle}
		for _, w := range slices.Sorted(maps.Keys(r.Translate)) {
			put(words, w, word(r.Translate[w]), "")
		}
		put(n, "translate", words, "")
	}
	return n
}

func put(n *yaml.Node, key string, value *yaml.Node, comment string) {
	if comment != "" {
		value.LineComment = oneLine(comment)
	}
	n.Content = append(n.Content, word(key), value)
}

// word returns a scalar that is read back as the same text.
func word(s string) *yaml.Node {
	n := &yaml.Node{}
	n.SetString(s)
	return n
}

// oneLine makes text fit for a comment.
func oneLine(s string) string {
	return strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
}
