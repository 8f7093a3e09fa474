package ingest

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
)

// digesting is a digest on its way.
type digesting struct{ done chan digestResult }

type digestResult struct {
	hex string
	err error
}

func (d digesting) wait() (string, error) {
	r := <-d.done
	return r.hex, r.err
}

// startDigest hashes the files of a dataset while they are being decoded: the
// digest is the SHA-256 of one line per file, sorted by name, of its name, a
// zero byte, its own SHA-256 in hexadecimal and a line feed. A mapping given
// from outside stands last, under the name "mapping".
func startDigest(ctx context.Context, files []file, outside string) digesting {
	sorted := slices.Clone(files)
	slices.SortFunc(sorted, func(a, b file) int { return cmp.Compare(a.name, b.name) })
	if outside != "" {
		sorted = append(sorted, file{name: "mapping", disk: outside})
	}
	d := digesting{make(chan digestResult, 1)}
	go func() {
		h, err := digest(ctx, sorted)
		d.done <- digestResult{h, err}
	}()
	return d
}

func digest(ctx context.Context, files []file) (string, error) {
	all := sha256.New()
	for _, f := range files {
		if f.role == roleOther || f.role == roleQuiet || f.member != "" {
			continue
		}
		sum, err := fileDigest(ctx, f.disk)
		if err != nil {
			return "", fmt.Errorf("hash %s: %w", f.name, err)
		}
		fmt.Fprintf(all, "%s\x00%s\n", f.name, sum)
	}
	return hex.EncodeToString(all.Sum(nil)), nil
}

func fileDigest(ctx context.Context, disk string) (string, error) {
	f, err := os.Open(disk)
	if err != nil {
		return "", err
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.CopyBuffer(struct{ io.Writer }{h}, &cancelled{ctx, f}, make([]byte, 256<<10)); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

func baseOf(p string) string { return filepath.Base(p) }
