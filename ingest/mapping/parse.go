package mapping

import (
	"cmp"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"sheetwash/ingest/issue"
	"sheetwash/ingest/schema"
)

// Parse reads a mapping.yaml, whose reference is docs/formats.md. Every fault is
// an error issue with its line in Row; keys that are not known are faults. The
// Map is nil if there was one.
func Parse(data []byte, file string) (*Map, *issue.List) {
	d := &document{file: file, issues: &issue.List{}}
	m := &Map{File: file}
	if root := d.open(data); root != nil {
		d.mapping(root, m)
	}
	if d.issues.Errors() > 0 {
		return nil, d.issues
	}
	return m, d.issues
}

// formatKeys are the keys that say how the bytes of a file are to be read.
var formatKeys = []string{"delimiter", "decimal", "encoding"}

func (d *document) mapping(root *yaml.Node, m *Map) {
	allowed := append([]string{"tables", "missing", "timezone"}, formatKeys...)
	var tables *yaml.Node
	for _, e := range d.entries(root, "the mapping", allowed...) {
		switch e.key.Value {
		case "tables":
			tables = e.value
		case "missing":
			m.Missing = d.missing(e.value)
		case "timezone":
			m.Zone = d.zone(e.value)
		default:
			d.format(e, &m.Format)
		}
	}
	if tables == nil {
		d.fault(Syntax, root, "the mapping has no tables; say which file feeds which table under the key tables")
		return
	}
	for _, e := range d.entries(tables, "tables", tableNames()...) {
		s, _ := schema.Find(e.key.Value)
		items := d.list(e.value)
		if len(items) == 0 {
			d.fault(Syntax, e.key, "the table %s has no source", s.Name)
		}
		for _, n := range items {
			m.Sources = append(m.Sources, d.source(s, n))
		}
	}
	sortSources(m.Sources)
}

// sortSources puts the sources in the order of the dictionary's tables.
func sortSources(sources []Source) {
	tables := tableNames()
	slices.SortStableFunc(sources, func(a, b Source) int {
		return cmp.Compare(slices.Index(tables, a.Table), slices.Index(tables, b.Table))
	})
}

func tableNames() []string {
	var out []string
	for _, t := range schema.Tables() {
		out = append(out, t.Name)
	}
	return out
}

func (d *document) source(t *schema.Table, n *yaml.Node) Source {
	s := Source{Table: t.Name, Line: n.Line}
	own, columns := false, false
	allowed := append([]string{"file", "sheet", "range", "columns", "own_headers", "covariates", "where", "skip", "join", "unpivot", "missing"}, formatKeys...)
	for _, e := range d.entries(n, "a source of "+t.Name, allowed...) {
		switch e.key.Value {
		case "columns":
			columns = true
			for _, c := range d.entries(e.value, "the columns of "+t.Name) {
				if r, ok := d.rule(t, c); ok {
					s.Columns = append(s.Columns, r)
				}
			}
		case "own_headers":
			own = d.bool(e.value, "own_headers")
		case "covariates":
			if s.Covariates = d.texts(e.value, "a covariate"); t.Name != "plots" {
				d.fault(UnknownKey, e.key, "only plots have covariates")
			}
		case "where":
			s.Where = d.conditions(e.value, "where")
		case "skip":
			s.Skip = d.conditions(e.value, "skip")
		case "join":
			for _, j := range d.list(e.value) {
				s.Joins = append(s.Joins, d.join(j))
			}
		case "unpivot":
			s.Unpivot = d.unpivot(e.value)
		case "missing":
			s.Missing = d.missing(e.value)
		default:
			d.location(e, &s.Location)
		}
	}
	if s.File == "" && n.Kind == yaml.MappingNode {
		d.fault(Syntax, n, "a source of %s names no file", t.Name)
	}
	s.OwnHeaders = own || !columns
	return s
}

// location reads the keys that say where a table stands and how to read it.
func (d *document) location(e entry, l *Location) {
	switch e.key.Value {
	case "file":
		l.File = d.path(e.value)
	case "sheet":
		l.Sheet, _ = d.text(e.value, "sheet")
	case "range":
		l.Range, _ = d.text(e.value, "range")
		if l.Range = strings.ToUpper(l.Range); l.Range != "" && !cellRange.MatchString(l.Range) {
			d.fault(BadValue, e.value, "a range is written like A9:F40")
		}
	default:
		d.format(e, &l.Format)
	}
}

var cellRange = regexp.MustCompile(`^[A-Z]{1,3}[0-9]{1,7}:[A-Z]{1,3}[0-9]{1,7}$`)

// path reads a path below the dataset.
func (d *document) path(n *yaml.Node) string {
	s, ok := d.text(n, "file")
	if !ok {
		return ""
	}
	clean, ok := cleanPath(s)
	if !ok {
		d.fault(BadValue, n, "%q is no path below the dataset's folder", s)
		return ""
	}
	if _, err := path.Match(clean, ""); err != nil {
		d.fault(BadValue, n, "%q is no pattern: %v", s, err)
	}
	return clean
}

// cleanPath returns a path below the dataset in its plain form.
func cleanPath(s string) (string, bool) {
	s = path.Clean(strings.ReplaceAll(s, "\\", "/"))
	bad := s == "." || s == ".." || strings.HasPrefix(s, "/") || strings.HasPrefix(s, "../") || strings.Contains(s, ":/") || len(s) > 1 && s[1] == ':'
	return s, !bad
}

func (d *document) format(e entry, f *Format) {
	s, ok := d.text(e.value, e.key.Value)
	if !ok {
		return
	}
	switch e.key.Value {
	case "delimiter":
		if f.Delimiter = s; s == "tab" || s == `\t` {
			f.Delimiter = "\t"
		}
		if len(f.Delimiter) != 1 || strings.Contains("\"\r\n.0123456789", f.Delimiter) {
			d.fault(BadValue, e.value, "a delimiter is one character such as \";\", or tab")
		}
	case "decimal":
		if f.Decimal = s; s != "." && s != "," {
			d.fault(BadValue, e.value, "the decimal mark is \".\" or \",\"")
		}
	case "encoding":
		if f.Encoding, ok = encodingName(s); !ok {
			d.fault(BadValue, e.value, "the encoding is one of utf-8, utf-16, windows-1252")
		}
	}
}

// encodingName returns our name of an encoding.
func encodingName(s string) (string, bool) {
	switch strings.NewReplacer("_", "-", " ", "-").Replace(strings.ToLower(s)) {
	case "utf-8", "utf8", "us-ascii", "ascii":
		return "utf-8", true
	case "utf-16", "utf16", "utf-16le", "utf-16be":
		return "utf-16", true
	case "windows-1252", "cp1252", "iso-8859-1", "latin-1", "latin1":
		return "windows-1252", true
	}
	return "", false
}

// missing reads the words for a missing value: a list, or each with its meaning.
func (d *document) missing(n *yaml.Node) map[string]Meaning {
	out := map[string]Meaning{}
	if n.Kind != yaml.MappingNode {
		for _, w := range d.texts(n, "a missing-value word") {
			out[strings.TrimSpace(w)] = NotMeasured
		}
		return out
	}
	for _, e := range d.entries(n, "missing") {
		s, ok := d.text(e.value, "the meaning of a missing-value word")
		switch {
		case !ok:
		case s == "missing":
			out[strings.TrimSpace(e.key.Value)] = NotMeasured
		case s == "none":
			out[strings.TrimSpace(e.key.Value)] = NotHappened
		default:
			d.fault(BadValue, e.value, "a missing-value word means missing (nothing was measured) or none (it did not happen), not %q", s)
		}
	}
	return out
}

var offset = regexp.MustCompile(`^([+-])(\d\d):?(\d\d)$`)

// zone reads the name of a time zone or an offset.
func (d *document) zone(n *yaml.Node) *time.Location {
	s, ok := d.text(n, "timezone")
	if !ok {
		return nil
	}
	if m := offset.FindStringSubmatch(s); m != nil {
		hours, _ := strconv.Atoi(m[2])
		minutes, _ := strconv.Atoi(m[3])
		seconds := hours*3600 + minutes*60
		if m[1] == "-" {
			seconds = -seconds
		}
		return time.FixedZone(s, seconds)
	}
	loc, err := time.LoadLocation(s)
	if err != nil || s == "" || s == "Local" {
		d.fault(BadValue, n, "%q is no time zone; write one such as Europe/Vienna, UTC or +01:00", s)
		return nil
	}
	return loc
}
