package ingest

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
)

// maxDepth is how deep folders are walked; deeper ones are a mistake.
const maxDepth = 64

// walk lists the files below a folder, sorted by path. Hidden ones are left
// out. Links to files are followed. Links to folders are followed once every
// folder proper is known, and each folder is read once however many ways lead to
// it: no link makes a loop, doubles a dataset or multiplies the work. A folder
// below root that cannot be read is among the faults; the error is for root itself.
func walk(root string) (files []file, faults []walkFault, err error) {
	w := walker{seen: map[string]bool{}}
	if err := w.folder(root, "", 0); err != nil {
		return nil, nil, err
	}
	for len(w.links) > 0 {
		l := w.links[0]
		w.links = w.links[1:]
		w.below(l.disk, l.name, l.depth)
	}
	slices.SortStableFunc(w.files, func(a, b file) int { return cmp.Compare(a.name, b.name) })
	return w.files, w.faults, nil
}

// walkFault is a folder that could not be read, by its path below the root.
type walkFault struct{ name, why string }

// walker gathers the files of a tree.
type walker struct {
	files  []file
	faults []walkFault
	links  []link
	seen   map[string]bool // folders that were read, by their path without links
}

// link is a link to a folder, which waits until the folders proper are read.
type link struct {
	disk, name string
	depth      int
}

// below reads a folder below the root.
func (w *walker) below(disk, name string, depth int) {
	err := w.folder(disk, name, depth)
	if err == nil {
		return
	}
	why := err.Error()
	if pe, ok := errors.AsType[*fs.PathError](err); ok {
		why = pe.Err.Error()
	}
	w.faults = append(w.faults, walkFault{name, why})
}

func (w *walker) folder(disk, name string, depth int) error {
	if depth > maxDepth {
		return fmt.Errorf("folders are nested more than %d deep", maxDepth)
	}
	proper, err := filepath.EvalSymlinks(disk)
	if err != nil {
		return err
	}
	if w.seen[proper] {
		return nil
	}
	w.seen[proper] = true
	entries, err := os.ReadDir(disk) // sorted
	if err != nil {
		return err
	}
	for _, e := range entries {
		if hidden(e.Name()) {
			continue
		}
		d, n := filepath.Join(disk, e.Name()), path.Join(name, e.Name())
		isLink := e.Type()&os.ModeSymlink != 0
		info, err := os.Stat(d) // follows links
		if err != nil {
			if !isLink { // one that leads nowhere is passed over
				w.faults = append(w.faults, walkFault{n, "it is gone, or may not be looked at"})
			}
			continue
		}
		switch {
		case info.IsDir() && isLink:
			w.links = append(w.links, link{d, n, depth + 1})
		case info.IsDir():
			w.below(d, n, depth+1)
		case info.Mode().IsRegular():
			w.files = append(w.files, file{name: n, disk: d, size: info.Size(), role: roleOf(n)})
		}
	}
	return nil
}
