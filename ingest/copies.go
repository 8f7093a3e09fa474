package ingest

import (
	"archive/zip"
	"crypto/sha256"
	"fmt"
	"io"
	"os"
	"path"

	"sheetwash/ingest/issue"
)

// copies warns of datasets that hold the same bytes as one before: a folder that
// was copied would count each of its plots twice. Bytes are compared only where
// all names and sizes of the tables agree.
func (f *finder) copies() {
	alike := map[string][]int{}
	for i := range f.sources {
		if k := sizesOf(f.sources[i]); k != "" {
			alike[k] = append(alike[k], i)
		}
	}
	open := archives{}
	defer open.close()
	for i := range f.sources {
		group := alike[sizesOf(f.sources[i])]
		if len(group) < 2 || group[0] != i {
			continue
		}
		first := map[string]int{}
		for _, k := range group {
			sum, err := open.sum(f.sources[k])
			if err != nil {
				continue // Read says what is wrong with it
			}
			j, copied := first[sum]
			if !copied {
				first[sum] = k
				continue
			}
			s := &f.sources[k]
			s.issues = append(s.issues, issue.Issue{Code: DatasetCopied, Severity: issue.Warning, Message: fmt.Sprintf(
				"the tables are the same, byte for byte, as those of the dataset %q, and its plots count twice: give one of them only", f.sources[j].Name)})
		}
	}
}

// sizesOf names the tables of a dataset with their sizes; "" where it has none.
func sizesOf(s Source) string {
	k := ""
	for _, x := range s.files {
		if x.role == roleTable {
			k += fmt.Sprintf("%s %d\x00", path.Base(x.name), x.size)
		}
	}
	return k
}

// archives are the zips that are open, by path.
type archives map[string]*zip.ReadCloser

func (a archives) close() {
	for _, z := range a {
		z.Close()
	}
}

// sum returns the SHA-256 of the tables of a dataset.
func (a archives) sum(s Source) (string, error) {
	h := sha256.New()
	for _, x := range s.files {
		if x.role != roleTable {
			continue
		}
		r, err := a.open(x)
		if err != nil {
			return "", err
		}
		_, err = io.CopyN(h, r, x.size)
		r.Close()
		if err != nil {
			return "", err
		}
	}
	return string(h.Sum(nil)), nil
}

func (a archives) open(x file) (io.ReadCloser, error) {
	if x.member == "" {
		return os.Open(x.disk)
	}
	z := a[x.disk]
	if z == nil {
		var err error
		if z, err = zip.OpenReader(x.disk); err != nil {
			return nil, err
		}
		a[x.disk] = z
	}
	return z.Open(x.member)
}
