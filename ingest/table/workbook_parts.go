package table

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
)

// checkParts looks at the parts of a workbook before the library does. The library
// fills every gap between cells, so that a few bytes which name a far column in every row
// would take any amount of memory.
func checkParts(data []byte) error {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return err
	}
	left := int64(maxUnzipped)
	for _, f := range z.File {
		part, err := readPart(f, left)
		if err != nil {
			return err
		}
		left -= int64(len(part))
		if !strings.HasSuffix(strings.ToLower(f.Name), ".xml") {
			continue
		}
		if err := checkEncoding(f.Name, part); err != nil {
			return err
		}
		if err := checkRefs(f.Name, part); err != nil {
			return err
		}
	}
	return nil
}

func readPart(f *zip.File, limit int64) ([]byte, error) {
	r, err := f.Open()
	if err != nil {
		return nil, err
	}
	defer r.Close()
	part, err := io.ReadAll(io.LimitReader(r, limit+1))
	if err != nil {
		return nil, err
	}
	if int64(len(part)) > limit {
		return nil, fmt.Errorf("%w: the workbook holds more than %d bytes", errTooLarge, int64(maxUnzipped))
	}
	return part, nil
}

// checkEncoding refuses what is not UTF-8, as every spreadsheet program writes it,
// since the other checks read bytes.
func checkEncoding(name string, part []byte) error {
	head := bytes.ToLower(part[:min(200, len(part))])
	decl, _, _ := bytes.Cut(head, []byte("?>"))
	i := bytes.Index(decl, []byte("encoding"))
	if i >= 0 && bytes.HasPrefix(bytes.TrimLeft(decl, "\ufeff"), []byte("<?xml")) && !bytes.Contains(decl[i:], []byte("utf-8")) {
		return fmt.Errorf("part %s is not UTF-8", name)
	}
	return nil
}

// checkRefs adds up, over the rows of a part, the furthest column that a cell
// reference r="XFD1" names.
func checkRefs(name string, part []byte) error {
	var total, furthest int64
	row := []byte(nil)
	for i := 1; i < len(part); i++ {
		if part[i] != 'r' || part[i-1] > ' ' {
			continue
		}
		ref, ok := attribute(part[i+1:])
		if !ok {
			continue
		}
		if len(ref) > 16 || bytes.IndexByte(ref, '&') >= 0 {
			return errors.New("a cell reference makes no sense")
		}
		letters := bytes.IndexFunc(ref, func(r rune) bool { return r >= '0' && r <= '9' })
		if letters < 0 {
			continue
		}
		col := columnNumber(ref[:letters]) // 0 in the reference of a row
		if col <= furthest || !bytes.Equal(ref[letters:], row) {
			total, furthest, row = total+furthest, 0, ref[letters:]
		}
		furthest = col
		if total+furthest > maxCells {
			return fmt.Errorf("%w: part %s has more than %d cells", errTooLarge, name, maxCells)
		}
	}
	return nil
}

// attribute returns the value of an attribute whose name has just been passed.
func attribute(p []byte) ([]byte, bool) {
	p = bytes.TrimLeft(p, " \t\r\n")
	if len(p) == 0 || p[0] != '=' {
		return nil, false
	}
	p = bytes.TrimLeft(p[1:], " \t\r\n")
	if len(p) == 0 || p[0] != '"' && p[0] != '\'' {
		return nil, false
	}
	end := bytes.IndexByte(p[1:], p[0])
	if end < 0 {
		return nil, false
	}
	return p[1 : 1+end], true
}

func columnNumber(letters []byte) int64 {
	var n int64
	for _, c := range bytes.ToUpper(letters) {
		if c < 'A' || c > 'Z' || n > maxCells {
			return n
		}
		n = n*26 + int64(c-'A'+1)
	}
	return n
}
