package mapping

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"sheetwash/ingest/issue"
)

// The findings of mapping files.
const (
	Syntax       issue.Code = "mapping.syntax"         // not YAML, or not of the shape that the reference describes
	UnknownKey   issue.Code = "mapping.unknown_key"    // a key or a column name that is not known
	BadValue     issue.Code = "mapping.value"          // a value that its key does not take
	NoSuchFile   issue.Code = "mapping.no_such_file"   // a file that the dataset does not have
	NoSuchColumn issue.Code = "mapping.no_such_column" // a header that the file does not have
	JoinKey      issue.Code = "mapping.join"           // a key that a joined file lacks or has twice
)

// maxMapping is the largest mapping file read, in bytes.
const maxMapping = 1 << 20

// document is a YAML document being read; faults are added to its issues.
type document struct {
	file   string
	issues *issue.List
	lines  int // of the file
	read   int // items looked at, aliases followed each time
}

// maxItems bounds what aliases can blow a small file up to.
const maxItems = 100_000

// spend counts items and reports, once, that there are too many.
func (d *document) spend(items int, at *yaml.Node) bool {
	before := d.read
	d.read += items
	if d.read > maxItems && before <= maxItems {
		d.fault(Syntax, at, "the mapping has more than %d entries, aliases followed", maxItems)
	}
	return d.read <= maxItems
}

func (d *document) fault(code issue.Code, n *yaml.Node, format string, args ...any) {
	i := issue.Issue{Code: code, Severity: issue.Error, File: d.file, Message: fmt.Sprintf(format, args...)}
	if n != nil {
		i.Row = int64(min(n.Line, d.lines)) // the decoder puts an empty document behind the last line
		if n.Kind == yaml.ScalarNode {
			i.Value = n.Value
		}
	}
	d.issues.Add(i)
}

// open decodes the one document of a file and returns its root, or nil.
func (d *document) open(data []byte) *yaml.Node {
	if len(data) > maxMapping {
		d.fault(Syntax, nil, "the file is larger than %d bytes, which no mapping needs", maxMapping)
		return nil
	}
	d.lines = 1 + len(lineBreak.FindAllIndex(data, -1))
	var root, second yaml.Node
	dec := yaml.NewDecoder(bytes.NewReader(data))
	if err := dec.Decode(&root); err != nil {
		d.syntax(err)
		return nil
	}
	if err := dec.Decode(&second); err == nil {
		d.fault(Syntax, &second, "a second YAML document; write one mapping per file")
	} else if !errors.Is(err, io.EOF) {
		d.syntax(err)
	}
	if len(root.Content) != 1 {
		d.fault(Syntax, &root, "the file holds no mapping")
		return nil
	}
	return root.Content[0]
}

// lineBreak is what ends a line in YAML 1.1.
var lineBreak = regexp.MustCompile("\r\n|[\n\r\u0085\u2028\u2029]")

var yamlLine = regexp.MustCompile(`^yaml: line (\d+): `)

// syntax reports a decoding error at the line that its text names.
func (d *document) syntax(err error) {
	if errors.Is(err, io.EOF) {
		d.fault(Syntax, nil, "the file is empty")
		return
	}
	text, at := err.Error(), &yaml.Node{}
	if m := yamlLine.FindStringSubmatch(text); m != nil {
		at.Line, _ = strconv.Atoi(m[1])
		text = text[len(m[0]):]
	}
	d.fault(Syntax, at, "not YAML: %s", strings.TrimPrefix(text, "yaml: "))
}

// entry is a key of a YAML mapping with its value.
type entry struct {
	key   *yaml.Node
	value *yaml.Node
}

// entries returns the entries of a YAML mapping, without those whose key is
// not allowed or comes twice, which it reports. No allowed keys: any key.
func (d *document) entries(n *yaml.Node, what string, allowed ...string) []entry {
	n = resolveAlias(n)
	if n.Kind != yaml.MappingNode {
		d.fault(Syntax, n, "%s must be keys with values", what)
		return nil
	}
	if !d.spend(len(n.Content), n) {
		return nil
	}
	var out []entry
	seen := map[string]bool{}
	for i := 0; i+1 < len(n.Content); i += 2 {
		k := n.Content[i]
		switch {
		case k.Kind != yaml.ScalarNode:
			d.fault(Syntax, k, "a key of %s is not a word", what)
			continue
		case seen[k.Value]:
			d.fault(Syntax, k, "the key %q stands twice in %s", k.Value, what)
			continue
		case len(allowed) > 0 && !slices.Contains(allowed, k.Value):
			d.fault(UnknownKey, k, "%s has no key %q%s; its keys are %s", what, k.Value, didYouMean(k.Value, allowed), strings.Join(allowed, ", "))
			continue
		}
		seen[k.Value] = true
		out = append(out, entry{k, resolveAlias(n.Content[i+1])})
	}
	return out
}

// list returns the items of a sequence, or n itself as the only one.
func (d *document) list(n *yaml.Node) []*yaml.Node {
	n = resolveAlias(n)
	if n.Kind != yaml.SequenceNode {
		return []*yaml.Node{n}
	}
	if !d.spend(len(n.Content), n) {
		return nil
	}
	var out []*yaml.Node
	for _, c := range n.Content {
		out = append(out, resolveAlias(c))
	}
	return out
}

// text returns the text of a scalar as it stands in the file, so that 007 and
// 1.50 stay what they are. A null is reported.
func (d *document) text(n *yaml.Node, what string) (string, bool) {
	n = resolveAlias(n)
	if n.Kind != yaml.ScalarNode || n.Tag == "!!null" {
		d.fault(BadValue, n, "%s must be one word or number (in quotes if it is empty)", what)
		return "", false
	}
	return n.Value, true
}

func (d *document) texts(n *yaml.Node, what string) []string {
	var out []string
	for _, c := range d.list(n) {
		if s, ok := d.text(c, what); ok {
			out = append(out, s)
		}
	}
	return out
}

func (d *document) bool(n *yaml.Node, what string) bool {
	s, ok := d.text(n, what)
	if ok && s != "true" && s != "false" {
		d.fault(BadValue, n, "%s is true or false, not %q", what, s)
	}
	return s == "true"
}

func resolveAlias(n *yaml.Node) *yaml.Node {
	for n.Kind == yaml.AliasNode && n.Alias != nil {
		n = n.Alias
	}
	return n
}
