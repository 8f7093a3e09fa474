package ingest

import (
	"os"
	"path"
	"slices"
	"strings"
	"sync"

	"sheetwash/ingest/issue"
)

// Source is one dataset that Find found: a name and the files that belong to
// it. Its contents have not been read.
type Source struct {
	Name   string
	files  []file        // sorted by name
	issues []issue.Issue // what finding it found, such as a file that is not used
	spool  *spool        // temporary copy of standard input; nil: none
}

// Files returns the paths of the dataset's files below it, sorted.
func (s Source) Files() []string {
	out := make([]string, len(s.files))
	for i, f := range s.files {
		out[i] = f.name
	}
	return out
}

// Close removes what Find copied from standard input. It may be called for every
// Source, read or not.
func (s Source) Close() error {
	if s.spool == nil {
		return nil
	}
	return s.spool.remove()
}

// file is one file of a dataset.
type file struct {
	name   string // path below the dataset, slash-separated
	disk   string // path on disk; of the archive where member is set
	member string // name within the archive; "": none
	index  int    // of the member in the archive's directory
	size   int64
	role   role
}

// role is what a file is to a dataset, judged by its name.
type role uint8

const (
	roleTable    role = iota // text, workbook, Arrow or Parquet
	roleMapping              // mapping.yaml
	rolePackage              // datapackage.json
	roleSettings             // analysis.yaml
	roleProfile              // simulator.yaml
	roleDrops                // a table of drop sizes that simulator.yaml may name
	roleArchive              // a zip
	roleQuiet                // belongs to a dataset and is read by nothing: README, licence
	roleOther
)

// roleOf judges a file by its name.
func roleOf(name string) role {
	base := strings.ToLower(path.Base(name))
	switch base {
	case "mapping.yaml", "mapping.yml":
		return roleMapping
	case "datapackage.json":
		return rolePackage
	case "analysis.yaml", "analysis.yml":
		return roleSettings
	case "simulator.yaml", "simulator.yml":
		return roleProfile
	case "thumbs.db", "desktop.ini":
		return roleQuiet
	}
	stem, ext := splitName(base)
	switch {
	case isDrops(stem) && (ext == ".txt" || ext == ".csv" || ext == ".dat"):
		return roleDrops
	case hidden(base), strings.HasPrefix(base, "~$"), ext == ".md":
		return roleQuiet
	case ext == ".txt" && tableNames[stem] == 0, ext == "":
		for _, p := range []string{"readme", "license", "licence", "copying", "notes", "changelog", "citation"} {
			if strings.HasPrefix(stem, p) {
				return roleQuiet
			}
		}
		if ext == ".txt" {
			return roleQuiet
		}
		return roleOther
	case ext == ".zip":
		return roleArchive
	case slices.Contains(tableExtensions, ext):
		return roleTable
	}
	return roleOther
}

// isDrops reports whether a file is named as a table of drop sizes: drops, or
// drops with a word behind it, such as drops_flat_fan.
func isDrops(stem string) bool {
	return stem == "drops" || strings.HasPrefix(stem, "drops_") || strings.HasPrefix(stem, "drops-")
}

// tableExtensions are the extensions of files that may hold tables, in lower case.
var tableExtensions = []string{".csv", ".tsv", ".txt", ".xlsx", ".arrow", ".arrows", ".feather", ".parquet"}

// tableNames are the tables that a file may be named after.
var tableNames = map[string]int{"runs": 1, "plots": 2, "samples": 3, "cans": 4, "readings": 5}

// splitName splits a base name in lower case into stem and extension; an
// extension of compression is passed over.
func splitName(base string) (stem, ext string) {
	for _, c := range []string{".gz", ".zst"} {
		base = strings.TrimSuffix(base, c)
	}
	ext = path.Ext(base)
	return strings.TrimSuffix(base, ext), ext
}

// hidden reports whether a file or folder is one that systems put there.
func hidden(base string) bool {
	return strings.HasPrefix(base, ".") || base == "__MACOSX" || base == "__macosx"
}

// spool is a temporary folder that holds a copy of standard input.
type spool struct {
	dir  string
	once sync.Once
	err  error
}

func (s *spool) remove() error {
	s.once.Do(func() { s.err = os.RemoveAll(s.dir) })
	return s.err
}
