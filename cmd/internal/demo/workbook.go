package demo

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"strconv"

	"github.com/klauspost/compress/flate"
	"github.com/xuri/excelize/v2"
)

// workbook is the slate crew's other habit: one workbook, a sheet per table,
// numbers as numbers.
func workbook(d day) ([]File, error) {
	f := excelize.NewFile()
	f.SetZipWriter(func(w io.Writer) excelize.ZipWriter { return newArchive(w) })
	for i, g := range d.tables(customary) {
		if err := addSheet(f, i, g); err != nil {
			return nil, fmt.Errorf("sheet %s: %w", g.name, err)
		}
	}
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		return nil, err
	}
	if err := f.Close(); err != nil {
		return nil, err
	}
	return []File{d.in("quarry-rise.xlsx", b.Bytes())}, nil
}

func addSheet(f *excelize.File, index int, g grid) error {
	if index == 0 {
		if err := f.SetSheetName(f.GetSheetName(0), g.name); err != nil {
			return err
		}
	} else if _, err := f.NewSheet(g.name); err != nil {
		return err
	}
	header := make([]any, len(g.columns))
	for i, c := range g.columns {
		header[i] = parentheses.header(c)
	}
	if err := f.SetSheetRow(g.name, "A1", &header); err != nil {
		return err
	}
	for r, row := range g.rows {
		cells := make([]any, len(row))
		for i, text := range row {
			cells[i] = sheetCell(g.columns[i], text)
		}
		if err := f.SetSheetRow(g.name, fmt.Sprintf("A%d", r+2), &cells); err != nil {
			return err
		}
	}
	return nil
}

// sheetCell is a number where the column holds numbers, and nothing where the
// cell is empty.
func sheetCell(c gridColumn, text string) any {
	if text == "" {
		return nil
	}
	if c.numeric() {
		if v, err := strconv.ParseFloat(text, 64); err == nil {
			return v
		}
	}
	return text
}

// newArchive returns an archive whose bytes do not change with the Go release.
func newArchive(w io.Writer) *zip.Writer {
	z := zip.NewWriter(w)
	z.RegisterCompressor(zip.Deflate, func(out io.Writer) (io.WriteCloser, error) {
		return flate.NewWriter(out, flate.DefaultCompression)
	})
	return z
}
