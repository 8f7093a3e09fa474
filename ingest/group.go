package ingest

import (
	"archive/zip"
	"cmp"
	"io"
	"os"
	"path"
	"slices"
	"strings"

	"sheetwash/ingest/issue"
	"sheetwash/ingest/mapping"
)

// grouping divides the files of a tree among datasets.
type grouping struct {
	finder *finder
	files  []file
	base   string // name of the dataset at the top of the tree
}

// datasets returns the datasets of the tree and the files that belong to none.
// A folder is a dataset if it holds a table named after one of the dictionary's,
// a mapping.yaml, a datapackage.json, or tables whose headers the dictionary
// knows. A mapping also takes in the files of folders below that it names.
func (g *grouping) datasets() (sources []Source, unused []file) {
	claimed := g.claims()
	folders := map[string][]file{}
	for i, f := range g.files {
		dir := path.Dir(f.name)
		if claimed[i] != "" {
			dir = claimed[i]
		}
		folders[dir] = append(folders[dir], f)
	}
	var names []string
	for d := range folders {
		names = append(names, d)
	}
	slices.Sort(names)
	for _, dir := range names {
		in := folders[dir]
		if !g.isDataset(in) {
			for _, f := range in {
				if f.role == roleTable || f.role == roleOther || f.role == roleArchive && !hasSibling(g.files, f) {
					unused = append(unused, f)
				}
			}
			continue
		}
		s, archives := g.source(dir, in)
		s.files = append(s.files, profileAbove(folders, dir, s.files)...)
		slices.SortFunc(s.files, func(a, b file) int { return cmp.Compare(a.name, b.name) })
		sources = append(sources, s)
		unused = append(unused, archives...)
	}
	return sources, unused
}

// source makes a dataset of the files of one folder. Archives that lie beside
// its tables are datasets of their own.
func (g *grouping) source(dir string, in []file) (Source, []file) {
	s := Source{Name: dir}
	if dir == "." {
		s.Name = g.base
	}
	var archives []file
	for _, f := range in {
		if dir != "." {
			f.name = strings.TrimPrefix(f.name, dir+"/")
		}
		switch f.role {
		case roleArchive:
			if f.member == "" && !hasSibling(g.files, f) {
				f.name = path.Join(dir, f.name)
				archives = append(archives, f)
				continue
			}
			s.issues = append(s.issues, unusedIssue(f.name))
		case roleOther:
			s.issues = append(s.issues, unusedIssue(f.name))
		case roleQuiet:
		default:
			s.files = append(s.files, f)
		}
	}
	slices.SortFunc(s.files, func(a, b file) int { return cmp.Compare(a.name, b.name) })
	return s, archives
}

// profileAbove returns the profile of the simulators, and the drop sizes beside
// it, from the nearest folder above a dataset that has none of its own: one
// profile may serve a season.
func profileAbove(folders map[string][]file, dir string, own []file) []file {
	if dir == "." || slices.ContainsFunc(own, func(f file) bool { return f.role == roleProfile }) {
		return nil
	}
	for dir != "." {
		dir = path.Dir(dir)
		var out []file
		found := false
		for _, f := range folders[dir] {
			if f.role == roleProfile || f.role == roleDrops {
				found = found || f.role == roleProfile
				f.name = path.Base(f.name)
				out = append(out, f)
			}
		}
		if found {
			return out
		}
	}
	return nil
}

func unusedIssue(name string) issue.Issue {
	return issue.Issue{Code: FileUnused, Severity: issue.Note, File: name, Message: "this file is not understood and is not read"}
}

// hasSibling reports whether a folder of an archive's name lies beside it: then
// the archive is taken for a copy of it.
func hasSibling(files []file, archive file) bool {
	stem := strings.TrimSuffix(archive.name, path.Ext(archive.name)) + "/"
	return slices.ContainsFunc(files, func(f file) bool { return strings.HasPrefix(f.name, stem) })
}

func (g *grouping) isDataset(in []file) bool {
	var tables []file
	for _, f := range in {
		switch f.role {
		case roleMapping, rolePackage:
			return true
		case roleTable:
			tables = append(tables, f)
		}
	}
	for _, f := range tables {
		stem, _ := splitName(strings.ToLower(path.Base(f.name)))
		if tableNames[stem] > 0 {
			return true
		}
		if m := g.finder.mapping; m != nil && (m.Uses(f.name) || m.Uses(path.Base(f.name))) {
			return true
		}
	}
	for _, f := range tables {
		if len(g.finder.headers(f)) > 0 {
			return true
		}
	}
	return false
}

// claims returns, per file, the folder of the mapping or data package that
// names it; "" where none does.
func (g *grouping) claims() []string {
	out := make([]string, len(g.files))
	for _, f := range g.files {
		if f.role != roleMapping && f.role != rolePackage {
			continue
		}
		m := g.parse(f)
		if m == nil {
			continue
		}
		dir := path.Dir(f.name)
		for i, other := range g.files {
			rel := other.name
			if dir != "." {
				cut, below := strings.CutPrefix(rel, dir+"/")
				if !below {
					continue
				}
				rel = cut
			}
			if strings.Contains(rel, "/") && len(out[i]) <= len(dir) && m.Uses(rel) {
				out[i] = dir
			}
		}
	}
	return out
}

// parse reads a mapping or data package; nil where it has errors.
func (g *grouping) parse(f file) *mapping.Map {
	data, err := content(f, maxMapping)
	if err != nil {
		return nil
	}
	if f.role == rolePackage {
		m, _ := mapping.ParsePackage(data, f.name)
		return m
	}
	m, _ := mapping.Parse(data, f.name)
	return m
}

// maxMapping is the largest mapping, data package or settings file that is read, bytes.
const maxMapping = 4 << 20

// content returns the first bytes, at most limit, of a file or member.
func content(f file, limit int64) ([]byte, error) {
	if f.member == "" {
		r, err := os.Open(f.disk)
		if err != nil {
			return nil, err
		}
		defer r.Close()
		return io.ReadAll(io.LimitReader(r, limit))
	}
	z, err := zip.OpenReader(f.disk)
	if err != nil {
		return nil, err
	}
	defer z.Close()
	r, err := z.Open(f.member)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	return io.ReadAll(io.LimitReader(r, limit))
}
