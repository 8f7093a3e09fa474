package mapping

import (
	"errors"
	"fmt"
	"path"
	"strings"

	"sheetwash/ingest/issue"
	"sheetwash/ingest/schema"
	"sheetwash/ingest/table"
	"sheetwash/ingest/units"
)

// The findings of package descriptors.
const (
	PackageSyntax   issue.Code = "package.syntax"   // not JSON, or not of the shape of a Data Package
	PackageValue    issue.Code = "package.value"    // a property that cannot be used as it stands
	PackageResource issue.Code = "package.resource" // a resource that is no table of the data dictionary
)

// ParsePackage reads a Frictionless datapackage.json (Data Package standard,
// version 1 or 2) as a Map: which file holds which table, its delimiter,
// decimal mark and encoding, the unit of each field and the words for missing
// values. A resource is a table of the dictionary by its name, by the name of
// its file or by the names of its fields. Everything else that a descriptor may say is
// documentation to us.
//
// A fault is an error issue with the line in Row; the Map is nil if there was one.
func ParsePackage(data []byte, file string) (*Map, *issue.List) {
	p := &descriptor{file: file, issues: &issue.List{}}
	m := &Map{File: file}
	p.read(data, m)
	if p.issues.Errors() > 0 {
		return nil, p.issues
	}
	sortSources(m.Sources)
	return m, p.issues
}

type descriptor struct {
	file   string
	issues *issue.List
}

func (p *descriptor) report(severity issue.Severity, code issue.Code, n *jsonNode, format string, args ...any) {
	i := issue.Issue{Code: code, Severity: severity, File: p.file, Message: fmt.Sprintf(format, args...)}
	if n != nil {
		i.Row = int64(n.line)
		i.Value, _ = n.text()
	}
	p.issues.Add(i)
}

func (p *descriptor) read(data []byte, m *Map) {
	if len(data) > maxMapping {
		p.report(issue.Error, PackageSyntax, nil, "the file is larger than %d bytes, which no descriptor needs", maxMapping)
		return
	}
	root, line, err := decodeJSON([]byte(strings.TrimPrefix(string(data), "\ufeff")))
	if err != nil {
		p.report(issue.Error, PackageSyntax, &jsonNode{line: line}, "%v", err)
		return
	}
	resources := root.get("resources")
	if resources == nil || resources.kind != '[' || len(resources.values) == 0 {
		p.report(issue.Error, PackageSyntax, root, "a Data Package lists its files under the key resources; this one lists none")
		return
	}
	for _, r := range resources.values {
		if r.kind != '{' {
			p.report(issue.Error, PackageSyntax, r, "a resource is an object with name and path")
			continue
		}
		p.resource(r, m)
	}
}

func (p *descriptor) resource(r *jsonNode, m *Map) {
	name, _ := r.get("name").text()
	paths := p.paths(r, name)
	if len(paths) == 0 {
		return
	}
	t := p.tableOf(r, name, paths[0])
	if t == nil {
		p.report(issue.Note, PackageResource, r, "the resource %q is no table of the data dictionary and is not read", name)
		return
	}
	s := Source{Table: t.Name, OwnHeaders: true, Line: r.line}
	s.Format = p.format(r)
	schemaNode := r.get("schema")
	if _, isText := schemaNode.text(); isText {
		p.report(issue.Warning, PackageValue, schemaNode, "a schema in a file of its own is not read; the units of its fields are taken from the headers")
	}
	s.Missing = p.missing(schemaNode.get("missingValues"))
	if fields := schemaNode.get("fields"); fields != nil {
		for _, f := range fields.values {
			p.field(t, f, &s)
		}
	}
	for _, file := range paths {
		s.File = file
		m.Sources = append(m.Sources, s)
	}
}

// paths returns the files of a resource.
func (p *descriptor) paths(r *jsonNode, name string) []string {
	n := r.get("path")
	if n == nil {
		if r.get("data") != nil {
			p.report(issue.Warning, PackageValue, r.get("data"), "the resource %q holds its data in the descriptor, which is not read; put them in a file", name)
			return nil
		}
		p.report(issue.Error, PackageSyntax, r, "the resource %q has no path", name)
		return nil
	}
	all := []*jsonNode{n}
	if n.kind == '[' {
		all = n.values
	}
	var out []string
	for _, one := range all {
		s, ok := one.text()
		clean, below := cleanPath(s)
		switch {
		case !ok:
			p.report(issue.Error, PackageSyntax, one, "a path is a string")
		case strings.Contains(s, "://"):
			p.report(issue.Error, PackageValue, one, "nothing is fetched from the network; put the file beside the descriptor")
		case !below || strings.ContainsAny(clean, "*?["):
			p.report(issue.Error, PackageValue, one, "%q is no path below the descriptor's folder", s)
		default:
			out = append(out, clean)
		}
	}
	return out
}

// tableOf returns the table of the dictionary that a resource is; nil for none.
func (p *descriptor) tableOf(r *jsonNode, name, file string) *schema.Table {
	if t, ok := schema.Find(units.Normalise(name)); ok {
		return t
	}
	stem, _, _ := strings.Cut(path.Base(file), ".")
	if t, ok := schema.Find(strings.ToLower(stem)); ok {
		return t
	}
	var fields []table.Field
	if list := r.get("schema").get("fields"); list != nil {
		for _, f := range list.values {
			header, _ := f.get("name").text()
			fields = append(fields, table.Field{Name: header})
		}
	}
	if found := Recognise("", fields); len(found) > 0 {
		t, _ := schema.Find(found[len(found)-1])
		return t
	}
	return nil
}

// format reads the dialect, the encoding and the decimal mark of the fields.
func (p *descriptor) format(r *jsonNode) Format {
	var f Format
	dialect := r.get("dialect")
	if n := dialect.get("delimiter"); n != nil {
		if f.Delimiter, _ = n.text(); len(f.Delimiter) != 1 {
			p.report(issue.Error, PackageValue, n, "a delimiter is one character")
		}
	}
	if n := dialect.get("header"); n != nil && n.scalar == false {
		p.report(issue.Error, PackageValue, n, "a table without a header cannot be read; add one")
	}
	if n := r.get("encoding"); n != nil {
		s, _ := n.text()
		var ok bool
		if f.Encoding, ok = encodingName(s); !ok {
			p.report(issue.Error, PackageValue, n, "the encoding %q is not read; use utf-8, utf-16 or windows-1252", s)
		}
	}
	marks := []*jsonNode{dialect.get("decimalChar"), r.get("decimalChar")}
	if fields := r.get("schema").get("fields"); fields != nil {
		for _, x := range fields.values {
			marks = append(marks, x.get("decimalChar"))
		}
	}
	for _, n := range marks {
		if n == nil {
			continue
		}
		switch s, _ := n.text(); {
		case s != "." && s != ",":
			p.report(issue.Error, PackageValue, n, "the decimal mark is \".\" or \",\"")
		case f.Decimal != "" && f.Decimal != s:
			p.report(issue.Error, PackageValue, n, "the fields of one file have different decimal marks, which cannot be read")
		default:
			f.Decimal = s
		}
	}
	return f
}

// missing reads missingValues: words, or objects with a value (version 2).
func (p *descriptor) missing(n *jsonNode) map[string]Meaning {
	if n == nil {
		return nil
	}
	if n.kind != '[' {
		p.report(issue.Error, PackageSyntax, n, "missingValues is a list of words")
		return nil
	}
	out := map[string]Meaning{}
	for _, v := range n.values {
		s, ok := v.text()
		if !ok {
			s, ok = v.get("value").text()
		}
		if !ok {
			p.report(issue.Error, PackageSyntax, v, "a missing value is a string")
			continue
		}
		if s = strings.TrimSpace(s); s != "" {
			out[s] = NotMeasured
		}
	}
	return out
}

// field reads the unit and the missing values of one field.
func (p *descriptor) field(t *schema.Table, f *jsonNode, s *Source) {
	header, ok := f.get("name").text()
	if !ok {
		p.report(issue.Error, PackageSyntax, f, "a field of the schema has no name")
		return
	}
	missing := p.missing(f.get("missingValues"))
	unit, hasUnit := f.get("unit").text()
	if unit = strings.TrimSpace(unit); (!hasUnit || unit == "") && missing == nil {
		return
	}
	h, ok := units.Split(header, func(n string) bool { _, ok := findTarget(t, n); return ok })
	if !ok {
		return // a covariate, or not read
	}
	c, _ := findTarget(t, h.Name)
	rule := Rule{Name: h.Name, From: header, Missing: missing, Line: f.line}
	if unit != "" && c.numeric() {
		r, err := units.Resolve(unit, c.dimensions()...)
		if err != nil {
			code := units.UnknownUnit
			if errors.Is(err, units.ErrDimension) {
				code = units.OtherKind
			}
			p.report(issue.Error, code, f.get("unit"), "field %q: %v", header, err)
			return
		}
		for _, n := range r.Notes {
			p.issues.Add(issue.Issue{Code: n.Code, Severity: issue.Note, File: p.file, Table: t.Name, Row: int64(f.line), Column: header, Value: unit, Message: n.Message})
		}
		rule.Unit, rule.HasUnit = r.Unit, true
	}
	s.Columns = append(s.Columns, rule)
}
