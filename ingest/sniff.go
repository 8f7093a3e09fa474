package ingest

import (
	"archive/zip"
	"errors"
	"io"
	"os"
	"path"
	"strings"
)

// isArchive reports whether a file is a zip that is not a workbook.
func isArchive(p string) (bool, error) {
	head, err := firstBytes(p, 8)
	if err != nil {
		return false, err
	}
	named := strings.EqualFold(path.Ext(p), ".zip")
	if !named && extensionOf(head) != ".zip" {
		return false, nil
	}
	if named {
		return true, nil
	}
	book, err := isWorkbook(p)
	return err == nil && !book && !strings.EqualFold(path.Ext(p), ".xlsx"), nil
}

// isWorkbook reports whether a zip is an Office Open XML package.
func isWorkbook(p string) (bool, error) {
	z, err := zip.OpenReader(p)
	if err != nil && !errors.Is(err, zip.ErrInsecurePath) {
		return false, err
	}
	defer z.Close()
	for _, m := range z.File {
		if m.Name == "[Content_Types].xml" {
			return true, nil
		}
	}
	return false, nil
}

func firstBytes(p string, n int) ([]byte, error) {
	f, err := os.Open(p)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	head := make([]byte, n)
	k, err := io.ReadFull(f, head)
	if err != nil && err != io.EOF && err != io.ErrUnexpectedEOF {
		return nil, err
	}
	return head[:k], nil
}
