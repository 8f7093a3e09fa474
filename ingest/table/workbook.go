package table

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/xuri/excelize/v2"

	"sheetwash/ingest/issue"
)

// The codes of what a workbook can have wrong with it.
const (
	// CodeWorkbookDamaged: the file is not a workbook, or not a whole one. Error.
	CodeWorkbookDamaged issue.Code = "workbook.damaged"
	// CodeWorkbookFormat: a workbook of the format before .xlsx, or one with a password. Error.
	CodeWorkbookFormat issue.Code = "workbook.format"
	// CodeWorkbookTooLarge: the workbook holds more than is read of one. Error.
	CodeWorkbookTooLarge issue.Code = "workbook.too_large"
	// CodeWorkbookSheet: the sheet or the range that a mapping names is not there. Error.
	CodeWorkbookSheet issue.Code = "workbook.sheet"
	// CodeWorkbookCell: a cell holds an error value such as #DIV/0!. Error.
	CodeWorkbookCell issue.Code = "workbook.cell_error"
	// CodeWorkbookFormula: a formula's value was never stored in the file. Error.
	CodeWorkbookFormula issue.Code = "workbook.formula"
	// CodeWorkbookMerged: merged cells; the value is taken for each cell of them. Note.
	CodeWorkbookMerged issue.Code = "workbook.merged"
	// CodeWorkbookDate: a cell is formatted as a date or time that does not exist. Error.
	CodeWorkbookDate issue.Code = "workbook.date"
)

// WorkbookCodes returns the codes of workbooks in a fixed order.
func WorkbookCodes() []issue.Code {
	return []issue.Code{
		CodeWorkbookDamaged, CodeWorkbookFormat, CodeWorkbookTooLarge, CodeWorkbookSheet,
		CodeWorkbookCell, CodeWorkbookFormula, CodeWorkbookMerged, CodeWorkbookDate,
	}
}

// Bounds on a workbook. One that is larger is better off as CSV.
const (
	maxWorkbook  = 64 << 20  // bytes of the file
	maxUnzipped  = 256 << 20 // bytes of its parts
	maxCells     = 4 << 20   // cells of one sheet, the empty ones between counted
	maxColumns   = 2000
	maxMerged    = 2000 // merged areas of one sheet
	sheetBatch   = 8192 // rows of a batch
	workbookTake = "save the sheet as CSV"
)

// OpenWorkbook reads a workbook (.xlsx) and returns each sheet that is not empty as
// a table: Name is the sheet's name in lower case, File the workbook's with
// "#" and the sheet. The first row that is not empty is the header. Cells hold the
// values that are stored, not as they are shown: numbers in full, dates as ISO 8601,
// times as h:mm:ss, true or false, and of a formula the value it had when the
// workbook was saved. file is the path below the dataset. What is wrong with the workbook as
// a whole is in the list; the error is for r.
func OpenWorkbook(file string, r io.Reader) ([]Table, *issue.List, error) {
	w, err := openWorkbook(file, r)
	if err != nil {
		return nil, nil, err
	}
	defer w.close()
	var tables []Table
	for _, name := range w.sheets {
		if s := w.sheet(name, nil); s != nil {
			tables = append(tables, s)
		}
	}
	return tables, &w.issues, nil
}

// OpenSheetRange reads one range of one sheet, such as A10:F40, as a table whose
// header is the range's first row that is not empty. An empty range is the whole sheet.
// The table is nil where the list says why.
func OpenSheetRange(file string, r io.Reader, sheet, cells string) (Table, *issue.List, error) {
	w, err := openWorkbook(file, r)
	if err != nil {
		return nil, nil, err
	}
	defer w.close()
	if w.issues.Errors() > 0 {
		return nil, &w.issues, nil
	}
	name, ok := w.find(sheet)
	if !ok {
		w.report(CodeWorkbookSheet, sheet, "the workbook has no such sheet; it has "+strings.Join(w.sheets[:min(20, len(w.sheets))], ", "))
		return nil, &w.issues, nil
	}
	var within *area
	if cells != "" {
		if within, err = parseArea(cells); err != nil {
			w.report(CodeWorkbookSheet, cells, "this is not a range of cells; write it as A10:F40")
			return nil, &w.issues, nil
		}
	}
	s := w.sheet(name, within)
	if s == nil {
		if w.issues.Errors() == 0 {
			w.report(CodeWorkbookSheet, sheet+"!"+cells, "the range is empty; name the one that holds the table")
		}
		return nil, &w.issues, nil
	}
	return s, &w.issues, nil
}

// workbook is an opened workbook and what is wrong with it.
type workbook struct {
	file   string
	book   *excelize.File
	sheets []string
	issues issue.List
	dates  dateFormats
}

func openWorkbook(file string, r io.Reader) (*workbook, error) {
	data, err := io.ReadAll(io.LimitReader(r, maxWorkbook+1))
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", file, err)
	}
	w := &workbook{file: file}
	if len(data) > maxWorkbook {
		w.report(CodeWorkbookTooLarge, "", fmt.Sprintf("the workbook is larger than %d bytes; %s", maxWorkbook, workbookTake))
		return w, nil
	}
	if bytes.HasPrefix(data, []byte{0xD0, 0xCF, 0x11, 0xE0}) {
		w.report(CodeWorkbookFormat, "", "the workbook has a password or is of the format before .xlsx; save it as .xlsx without a password")
		return w, nil
	}
	w.guard(func() error {
		if err := checkParts(data); err != nil {
			return err
		}
		book, err := excelize.OpenReader(bytes.NewReader(data), excelize.Options{
			RawCellValue: true, UnzipSizeLimit: maxUnzipped, UnzipXMLSizeLimit: maxUnzipped,
		})
		if err != nil {
			return err
		}
		w.book, w.sheets = book, book.GetSheetList()
		props, err := book.GetWorkbookProps()
		if err != nil {
			return err
		}
		w.dates = dateFormats{book: book, since1904: props.Date1904 != nil && *props.Date1904, known: map[int]dateFormat{}}
		return nil
	})
	return w, nil
}

func (w *workbook) close() {
	if w.book != nil {
		w.book.Close() // holds nothing but temporary files, of which there are none
	}
}

func (w *workbook) report(code issue.Code, value, message string) {
	w.issues.Add(issue.Issue{Code: code, Severity: issue.Error, File: w.file, Value: value, Message: message})
}

// errTooLarge is wrapped by what a bound of this file refuses.
var errTooLarge = errors.New("too large")

// guard runs read and turns an error or a panic of the library into a finding.
func (w *workbook) guard(read func() error) {
	defer func() {
		if p := recover(); p != nil {
			w.report(CodeWorkbookDamaged, "", fmt.Sprintf("the workbook cannot be read (%v); open it in a spreadsheet program and save it again", issue.Clip(fmt.Sprint(p))))
		}
	}()
	err := read()
	switch {
	case err == nil:
	case errors.Is(err, errTooLarge), strings.Contains(err.Error(), "unzip size exceeds"):
		w.report(CodeWorkbookTooLarge, "", fmt.Sprintf("%s; %s", issue.Clip(err.Error()), workbookTake))
	default:
		w.report(CodeWorkbookDamaged, "", fmt.Sprintf("the workbook cannot be read (%s); open it in a spreadsheet program and save it again", issue.Clip(err.Error())))
	}
}

func (w *workbook) find(sheet string) (string, bool) {
	for _, name := range w.sheets {
		if strings.EqualFold(name, strings.TrimSpace(sheet)) {
			return name, true
		}
	}
	return "", false
}

// sheet reads a sheet, or the part of it within an area; nil if it is empty or
// cannot be read.
func (w *workbook) sheet(name string, within *area) *sheet {
	s := &sheet{file: w.file + "#" + name, name: strings.ToLower(strings.TrimSpace(name))}
	w.guard(func() error {
		// Before anything else: of a sheet that has been looked at the library would
		// write the text again to read its rows.
		rows, err := w.book.Rows(name)
		if err != nil {
			return err
		}
		merged, err := w.merged(name)
		if err != nil {
			return errors.Join(err, rows.Close())
		}
		for n := 1; rows.Next(); n++ {
			if within != nil && n > within.bottom {
				break
			}
			values, err := rows.Columns(excelize.Options{RawCellValue: true})
			if err != nil {
				return err
			}
			if within != nil && n < within.top {
				continue
			}
			if err := w.row(s, name, n, values, merged, within); err != nil {
				return err
			}
		}
		return errors.Join(rows.Error(), rows.Close())
	})
	if len(s.fields) == 0 {
		return nil
	}
	s.checkNames()
	return s
}

// row adds row n: the first that is not empty becomes the header.
func (w *workbook) row(s *sheet, name string, n int, values []string, merged []area, within *area) error {
	left, right := 1, len(values)
	for _, m := range merged {
		if n >= m.top && n <= m.bottom {
			right = max(right, m.right)
		}
	}
	if within != nil {
		left, right = within.left, min(right, within.right)
	}
	if right > maxColumns {
		return fmt.Errorf("%w: row %d of sheet %s has %d columns", errTooLarge, n, name, right)
	}
	got := sheetRow{number: n}
	empty := true
	for col := left; col <= right; col++ {
		raw := ""
		if col <= len(values) {
			raw = values[col-1]
		}
		c, err := w.cell(name, col, n, raw, merged)
		if err != nil {
			return err
		}
		got.cells = append(got.cells, c)
		empty = empty && c.text == "" && c.fault == ""
	}
	if empty {
		return nil
	}
	if s.fields == nil {
		s.header = n
		s.setHeader(got.cells)
		return nil
	}
	return s.add(got)
}

// Scan implements Table.
func (s *sheet) Scan(ctx context.Context, opt ScanOptions, work func(*Batch) any, commit func(any)) error {
	for from := 0; from < len(s.rows); from += sheetBatch {
		if err := ctx.Err(); err != nil {
			return err
		}
		to := min(from+sheetBatch, len(s.rows))
		commit(work(s.batch(from, to, opt.Want)))
	}
	return nil
}
