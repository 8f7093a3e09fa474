package ingest

import (
	"cmp"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"sheetwash/ingest/issue"
)

// File is a file that lies on disk under another name than the dataset's, as
// an upload does.
type File struct {
	Name string // in the dataset: a local path with slashes
	Path string // on disk
}

// FindFiles returns the datasets among files: those of a folder, one archive, or
// one table. base names a dataset that is the files themselves. A name that leads
// outside the dataset or stands twice is an issue, and nothing is read. The error
// is for files that cannot be opened.
func FindFiles(base string, files []File, opt FindOptions) ([]Source, *issue.List, error) {
	f := &finder{opt: opt, limits: opt.Limits.orDefault()}
	tree := make([]file, 0, len(files))
	seen := map[string]bool{}
	for _, x := range files {
		clean := path.Clean(x.Name)
		if clean == "." || strings.Contains(x.Name, `\`) || !filepath.IsLocal(filepath.FromSlash(clean)) || strings.ContainsRune(clean, 0) || seen[clean] {
			f.issues.Add(issue.Issue{Code: FileName, Severity: issue.Error, File: x.Name,
				Message: "this name leads outside the dataset, or stands twice: give each file a name of its own below the dataset"})
			continue
		}
		seen[clean] = true
		info, err := os.Stat(x.Path)
		if err != nil {
			return nil, nil, fmt.Errorf("find datasets: %w", err)
		}
		tree = append(tree, file{name: clean, disk: x.Path, size: info.Size(), role: roleOf(clean)})
	}
	if f.issues.Errors() > 0 {
		return nil, &f.issues, nil
	}
	slices.SortFunc(tree, func(a, b file) int { return cmp.Compare(a.name, b.name) })
	if err := f.files(tree, base); err != nil {
		return nil, nil, err
	}
	f.unique()
	f.copies()
	return f.sources, &f.issues, nil
}

// files adds the datasets among the files of an upload.
func (f *finder) files(tree []file, base string) error {
	if len(tree) != 1 {
		return f.tree(tree, base, base)
	}
	only := tree[0]
	isZip, err := isArchive(only.disk)
	_, ext := splitName(strings.ToLower(only.name))
	switch {
	case err != nil:
		return fmt.Errorf("find datasets: %w", err)
	case ext == ".zip", isZip && ext != ".xlsx":
		return f.archive(only.disk, only.name, base, nil)
	}
	only.role = roleTable
	f.add(Source{Name: base, files: []file{only}}, base)
	return nil
}
