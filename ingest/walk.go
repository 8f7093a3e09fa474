package ingest

import (
	"fmt"
	"os"
	"path"
	"path/filepath"
)

// maxDepth is how deep folders are walked; deeper ones are a mistake.
const maxDepth = 64

// walk lists the files below a folder, sorted by path. Hidden ones are left
// out. Links are followed; one that leads back to a folder above itself ends
// there.
func walk(root string) ([]file, error) {
	info, err := os.Stat(root)
	if err != nil {
		return nil, err
	}
	w := walker{}
	if err := w.folder(root, "", []os.FileInfo{info}); err != nil {
		return nil, err
	}
	return w.files, nil
}

type walker struct{ files []file }

func (w *walker) folder(disk, name string, above []os.FileInfo) error {
	if len(above) > maxDepth {
		return fmt.Errorf("%s: folders are nested more than %d deep", disk, maxDepth)
	}
	entries, err := os.ReadDir(disk) // sorted
	if err != nil {
		return err
	}
	for _, e := range entries {
		if hidden(e.Name()) {
			continue
		}
		d, n := filepath.Join(disk, e.Name()), path.Join(name, e.Name())
		info, err := os.Stat(d) // follows links
		if err != nil {
			if e.Type()&os.ModeSymlink != 0 {
				continue // leads nowhere
			}
			return err
		}
		switch {
		case info.IsDir():
			if isAbove(info, above) {
				continue
			}
			if err := w.folder(d, n, append(above[:len(above):len(above)], info)); err != nil {
				return err
			}
		case info.Mode().IsRegular():
			w.files = append(w.files, file{name: n, disk: d, size: info.Size(), role: roleOf(n)})
		}
	}
	return nil
}

func isAbove(info os.FileInfo, above []os.FileInfo) bool {
	for _, a := range above {
		if os.SameFile(a, info) {
			return true
		}
	}
	return false
}
