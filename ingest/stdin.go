package ingest

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
)

// stdin copies standard input to a temporary file and adds it: a zip, or one
// table whose format its first bytes tell.
func (f *finder) stdin() error {
	in := f.opt.Stdin
	if in == nil {
		in = os.Stdin
	}
	dir, err := os.MkdirTemp("", "sheetwash-")
	if err != nil {
		return fmt.Errorf("copy standard input: %w", err)
	}
	sp := &spool{dir: dir}
	size, p, err := copyInput(in, dir)
	if err != nil {
		sp.remove()
		return fmt.Errorf("copy standard input: %w", err)
	}
	if filepath.Ext(p) == ".zip" {
		return f.archive(p, filepath.Base(p), "stdin", sp)
	}
	f.add(Source{Name: "stdin", spool: sp, files: []file{{name: filepath.Base(p), disk: p, size: size, role: roleTable}}}, "-")
	return nil
}

// copyInput writes what it reads to a file in dir, named after its format.
func copyInput(in io.Reader, dir string) (int64, string, error) {
	head := make([]byte, 4096)
	n, err := io.ReadFull(in, head)
	if err != nil && err != io.EOF && err != io.ErrUnexpectedEOF {
		return 0, "", err
	}
	head = head[:n]
	p := filepath.Join(dir, "stdin"+extensionOf(head))
	w, err := os.OpenFile(p, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return 0, "", err
	}
	size, err := io.Copy(w, io.MultiReader(bytes.NewReader(head), in))
	if cerr := w.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		return 0, "", err
	}
	if filepath.Ext(p) == ".zip" { // a workbook is a zip too
		if book, err := isWorkbook(p); err == nil && book {
			q := filepath.Join(dir, "stdin.xlsx")
			return size, q, os.Rename(p, q)
		}
	}
	return size, p, nil
}

// extensionOf tells the format of a file by its first bytes.
func extensionOf(head []byte) string {
	switch {
	case bytes.HasPrefix(head, []byte("PK\x03\x04")), bytes.HasPrefix(head, []byte("PK\x05\x06")):
		return ".zip"
	case bytes.HasPrefix(head, []byte("ARROW1")):
		return ".arrow"
	case bytes.HasPrefix(head, []byte("\xff\xff\xff\xff")):
		return ".arrows"
	case bytes.HasPrefix(head, []byte("PAR1")):
		return ".parquet"
	case bytes.HasPrefix(head, []byte("\x1f\x8b")):
		return ".csv.gz"
	case bytes.HasPrefix(head, []byte("\x28\xb5\x2f\xfd")):
		return ".csv.zst"
	}
	return ".csv"
}
