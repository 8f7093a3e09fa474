package ingest

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"sheetwash/ingest/issue"
	"sheetwash/ingest/mapping"
)

// FindOptions says how datasets are looked for.
type FindOptions struct {
	Stdin   io.Reader // what "-" stands for; nil: os.Stdin
	Mapping string    // path of a mapping that is used for every dataset; "": none
	Limits  Limits
}

// Find returns the datasets at the paths, with unique names, sorted by name. A
// path is a folder (a dataset, or a season that is walked to any depth), a zip of
// either, a single file, or "-" for standard input. Issues hold what belongs to
// no dataset: archives that are refused become a Source that Read rejects. The error
// is for paths that do not exist or cannot be read.
func Find(paths []string, opt FindOptions) ([]Source, *issue.List, error) {
	f := &finder{opt: opt, limits: opt.Limits.orDefault()}
	if opt.Mapping != "" {
		m, _, err := loadMapping(opt.Mapping)
		if err != nil {
			return nil, nil, fmt.Errorf("read mapping: %w", err)
		}
		f.mapping = m
	}
	for _, p := range paths {
		if err := f.find(p); err != nil {
			for _, s := range f.sources {
				s.Close()
			}
			return nil, nil, err
		}
	}
	f.once()
	f.unique()
	f.copies()
	return f.sources, &f.issues, nil
}

type finder struct {
	opt     FindOptions
	limits  Limits
	mapping *mapping.Map // of the option; nil: none
	sources []Source
	roots   []string // per source: the path it was found below
	given   []os.FileInfo
	piped   bool // standard input was given
	issues  issue.List
}

func (f *finder) find(p string) error {
	if p == "-" {
		if f.piped {
			f.repeated(p, "standard input was given before and is read once")
			return nil
		}
		f.piped = true
		return f.stdin()
	}
	info, err := os.Stat(p)
	if err != nil {
		return fmt.Errorf("find datasets: %w", err)
	}
	for _, g := range f.given {
		if os.SameFile(g, info) {
			f.repeated(p, "this path was given before and is read once")
			return nil
		}
	}
	f.given = append(f.given, info)
	base := baseName(p)
	if info.IsDir() {
		return f.folder(p, base)
	}
	if !info.Mode().IsRegular() {
		return fmt.Errorf("find datasets: %s is neither a file nor a folder", p)
	}
	isZip, err := isArchive(p)
	if err != nil {
		return fmt.Errorf("find datasets: %w", err)
	}
	if isZip {
		return f.archive(p, filepath.Base(p), base, nil)
	}
	f.single(p, base, info.Size())
	return nil
}

// single adds a dataset of one file, and the mapping beside it if that uses the file.
func (f *finder) single(p, base string, size int64) {
	name := filepath.Base(p)
	s := Source{Name: base, files: []file{{name: name, disk: p, size: size, role: roleTable}}}
	for _, m := range []string{"mapping.yaml", "mapping.yml"} {
		beside := filepath.Join(filepath.Dir(p), m)
		if mp, data, err := loadMapping(beside); err == nil && mp != nil && mp.Uses(name) {
			s.files = append(s.files, file{name: m, disk: beside, size: int64(len(data)), role: roleMapping})
			break
		}
	}
	slices.SortFunc(s.files, func(a, b file) int { return cmp.Compare(a.name, b.name) })
	f.add(s, p)
}

func (f *finder) folder(p, base string) error {
	tree, faults, err := walk(p)
	if err != nil {
		return fmt.Errorf("find datasets: %w", err)
	}
	for _, x := range faults {
		f.add(Source{Name: x.name, issues: []issue.Issue{{Code: DatasetUnreadable, Severity: issue.Error,
			Message: "this folder cannot be read, and what lies below it is left out: " + x.why}}}, p)
	}
	return f.tree(tree, p, base)
}

// tree finds the datasets among files and adds them; base is the name of a
// dataset that is the tree itself.
func (f *finder) tree(files []file, root, base string) error {
	g := grouping{finder: f, files: files, base: base}
	sources, unused := g.datasets()
	for _, s := range sources {
		f.add(s, root)
	}
	for _, u := range unused {
		if u.role == roleArchive && u.member == "" {
			name := strings.TrimSuffix(u.name, path.Ext(u.name))
			if err := f.archive(u.disk, path.Base(u.name), name, nil); err != nil {
				return err
			}
			continue
		}
		f.issues.Add(issue.Issue{Code: FileUnused, Severity: issue.Note, File: u.name, Message: "this file belongs to no dataset and is not read"})
	}
	if len(sources) == 0 && len(f.sources) == 0 && f.mapping == nil {
		f.issues.Add(issue.Issue{Code: DatasetNone, Severity: issue.Error, File: root,
			Message: "no dataset was found: name the tables runs, plots, samples, cans or readings, or write a mapping.yaml beside the files (the command map proposes one)"})
	}
	return nil
}

func (f *finder) add(s Source, root string) {
	f.sources = append(f.sources, s)
	f.roots = append(f.roots, root)
}

func (f *finder) repeated(p, message string) {
	f.issues.Add(issue.Issue{Code: DatasetRepeated, Severity: issue.Note, File: p, Message: message})
}

// once leaves out the datasets whose tables are those of one before: a folder
// that was given together with a folder above it, or reached by a link as well.
func (f *finder) once() {
	first := map[string]string{}
	sources, roots := f.sources[:0], f.roots[:0]
	for i, s := range f.sources {
		k := tablesOf(s)
		if name, twice := first[k]; twice && k != "" {
			f.repeated(f.roots[i], fmt.Sprintf("the files of the dataset %q were given before, as %q, and are read once", s.Name, name))
			continue
		}
		first[k] = s.Name
		sources, roots = append(sources, s), append(roots, f.roots[i])
	}
	f.sources, f.roots = sources, roots
}

// tablesOf names the tables of a dataset by where they lie on the disk, links
// resolved.
func tablesOf(s Source) string {
	var b strings.Builder
	for _, x := range s.files {
		if x.role != roleTable {
			continue
		}
		disk, err := filepath.EvalSymlinks(x.disk)
		if err != nil {
			disk = x.disk
		}
		if abs, err := filepath.Abs(disk); err == nil {
			disk = abs
		}
		b.WriteString(disk + "\x00" + x.member + "\x00")
	}
	return b.String()
}

// unique makes the names of the datasets unique and sorts by them: names that
// several paths share are preceded by the path's own name, then numbered.
func (f *finder) unique() {
	count := map[string]int{}
	for _, s := range f.sources {
		count[s.Name]++
	}
	for i := range f.sources {
		if s := &f.sources[i]; count[s.Name] > 1 {
			if b := baseName(f.roots[i]); b != s.Name {
				s.Name = b + "/" + s.Name
			}
		}
	}
	taken := map[string]bool{}
	for i := range f.sources {
		s := &f.sources[i]
		name := s.Name
		for n := 2; taken[name]; n++ {
			name = fmt.Sprintf("%s (%d)", s.Name, n)
		}
		s.Name, taken[name] = name, true
	}
	slices.SortStableFunc(f.sources, func(a, b Source) int { return cmp.Compare(a.Name, b.Name) })
}

// baseName returns the name of a path itself: of a folder its last element, of a
// file without extensions.
func baseName(p string) string {
	abs, err := filepath.Abs(p)
	if err != nil {
		abs = p
	}
	base := filepath.Base(abs)
	if info, err := os.Stat(p); err == nil && info.IsDir() {
		return base
	}
	for _, c := range []string{".gz", ".zst"} {
		base = strings.TrimSuffix(base, c)
	}
	if stem := strings.TrimSuffix(base, filepath.Ext(base)); stem != "" {
		return stem
	}
	return base
}

// loadMapping reads a mapping.yaml; the Map is nil where it has errors, which
// Read reports.
func loadMapping(p string) (*mapping.Map, []byte, error) {
	data, err := os.ReadFile(p)
	if err != nil {
		return nil, nil, err
	}
	m, _ := mapping.Parse(data, filepath.Base(p))
	return m, data, nil
}

// headers opens a table and returns which tables of the dictionary its headers
// make it; nothing where it cannot be opened.
func (f *finder) headers(x file) []string {
	ctx := context.Background()
	disk := x.disk
	if x.member != "" {
		dir, err := os.MkdirTemp("", "sheetwash-")
		if err != nil {
			return nil
		}
		defer os.RemoveAll(dir)
		out := []file{x}
		if issues, err := extract(ctx, out, dir, f.limits); err != nil || len(issues) > 0 {
			return nil
		}
		disk = out[0].disk
	}
	return sniffHeaders(ctx, disk, x.name, f.limits)
}
