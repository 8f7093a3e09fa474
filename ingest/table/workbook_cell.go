package table

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"
	"github.com/xuri/nfp"
)

// area is a range of cells, counted from 1.
type area struct{ left, top, right, bottom int }

// parseArea reads A10:F40, or one cell; $ signs are passed over.
func parseArea(s string) (*area, error) {
	s = strings.ReplaceAll(strings.TrimSpace(s), "$", "")
	from, to, ok := strings.Cut(s, ":")
	if !ok {
		to = from
	}
	a := &area{}
	var err error
	if a.left, a.top, err = excelize.CellNameToCoordinates(from); err != nil {
		return nil, err
	}
	if a.right, a.bottom, err = excelize.CellNameToCoordinates(to); err != nil {
		return nil, err
	}
	if a.left > a.right || a.top > a.bottom {
		return nil, fmt.Errorf("range %s ends before it starts", s)
	}
	return a, nil
}

// merged returns the merged areas of a sheet.
func (w *workbook) merged(name string) ([]area, error) {
	cells, err := w.book.GetMergeCells(name, true)
	if err != nil {
		return nil, err
	}
	if len(cells) > maxMerged {
		return nil, fmt.Errorf("%w: sheet %s has %d merged areas", errTooLarge, name, len(cells))
	}
	var areas []area
	for _, c := range cells {
		a, err := parseArea(c.GetStartAxis() + ":" + c.GetEndAxis())
		if err != nil {
			return nil, err
		}
		a.right = min(a.right, maxColumns)
		areas = append(areas, *a)
	}
	return areas, nil
}

// cell reads one cell whose stored text is raw. A cell inside a merged area has the
// value of the area's first.
func (w *workbook) cell(sheet string, col, row int, raw string, merged []area) (sheetCell, error) {
	var c sheetCell
	name, err := excelize.CoordinatesToCellName(col, row)
	if err != nil {
		return c, err
	}
	for _, m := range merged {
		if col < m.left || col > m.right || row < m.top || row > m.bottom || col == m.left && row == m.top {
			continue
		}
		if raw, err = w.book.GetCellValue(sheet, name, excelize.Options{RawCellValue: true}); err != nil {
			return c, err
		}
		if name, err = excelize.CoordinatesToCellName(m.left, m.top); err != nil {
			return c, err
		}
		c.merged = true
		break
	}
	c.text = raw
	kind, err := w.book.GetCellType(sheet, name)
	if err != nil {
		return c, err
	}
	switch kind {
	case excelize.CellTypeBool:
		c.text = map[string]string{"1": "true", "0": "false"}[raw]
	case excelize.CellTypeError:
		c.fault, c.advice = CodeWorkbookCell, "the cell holds an error instead of a value; correct its formula, or clear it"
	case excelize.CellTypeUnset, excelize.CellTypeNumber, excelize.CellTypeDate:
		return c, w.number(&c, sheet, name)
	}
	return c, nil
}

// number turns the serial number of a date or time into text, and finds formulas that
// were never computed.
func (w *workbook) number(c *sheetCell, sheet, name string) error {
	if c.text == "" {
		formula, err := w.book.GetCellFormula(sheet, name)
		if err == nil && formula != "" {
			c.fault, c.advice = CodeWorkbookFormula, "the workbook does not hold the value of this formula; open it in a spreadsheet program and save it again"
		}
		return err
	}
	style, err := w.book.GetCellStyle(sheet, name)
	if err != nil || style == 0 {
		return err
	}
	format, err := w.dates.of(style)
	if err != nil || format == (dateFormat{}) {
		return err
	}
	serial, err := strconv.ParseFloat(c.text, 64)
	if err != nil {
		return nil // text in a cell that is formatted as a date
	}
	text, ok := format.text(serial, w.dates.since1904)
	if !ok {
		c.fault, c.advice = CodeWorkbookDate, "the cell is formatted as a date or time, and its number is none; correct it, or format the cell as a number"
		return nil
	}
	c.text = text
	return nil
}

// dateFormat says which parts of a date a number format shows.
type dateFormat struct{ date, clock bool }

// dateFormats knows the date formats among a workbook's styles.
type dateFormats struct {
	book      *excelize.File
	since1904 bool
	known     map[int]dateFormat
}

func (d *dateFormats) of(style int) (dateFormat, error) {
	if f, ok := d.known[style]; ok {
		return f, nil
	}
	s, err := d.book.GetStyle(style)
	if err != nil {
		return dateFormat{}, err
	}
	f := builtinFormat(s.NumFmt)
	if s.CustomNumFmt != nil {
		f = customFormat(*s.CustomNumFmt)
	}
	d.known[style] = f
	return f, nil
}

// builtinFormat classifies the formats that have a number and no text: ECMA-376
// part 1, 18.8.30 (numFmt), with the East Asian ones.
func builtinFormat(id int) dateFormat {
	switch {
	case id >= 14 && id <= 17, id >= 27 && id <= 31, id == 36, id >= 50 && id <= 54, id == 57, id == 58:
		return dateFormat{date: true}
	case id >= 18 && id <= 21, id >= 32 && id <= 35, id >= 45 && id <= 47, id == 55, id == 56:
		return dateFormat{clock: true}
	case id == 22:
		return dateFormat{date: true, clock: true}
	}
	return dateFormat{}
}

// customFormat classifies a format by the parts of its first section. An m is a
// minute beside hours or seconds, and a month elsewhere.
func customFormat(code string) dateFormat {
	parser := nfp.NumberFormatParser()
	sections := parser.Parse(code)
	var f dateFormat
	if len(sections) == 0 {
		return f
	}
	m := false
	for _, t := range sections[0].Items {
		if t.TType == nfp.TokenTypeElapsedDateTimes {
			f.clock = true
		}
		if t.TType != nfp.TokenTypeDateTimes {
			continue
		}
		switch part := strings.ToLower(t.TValue); {
		case strings.ContainsAny(part, "ydeg"):
			f.date = true
		case strings.ContainsAny(part, "hs"):
			f.clock = true
		case strings.HasPrefix(part, "m"):
			m = true
		}
	}
	if m && !f.clock {
		f.date = true
	}
	return f
}

// maxSerial is 31 December 9999, the last day that a spreadsheet knows.
const maxSerial = 2958466

// text writes a serial number of days as a date, a time, or both; to a
// millisecond, which is what a serial number of today holds.
func (f dateFormat) text(serial float64, since1904 bool) (string, bool) {
	if !(serial >= 0 && serial < maxSerial) {
		return "", false
	}
	if !f.date {
		ms := int64(math.Round(serial * 86400_000))
		text := fmt.Sprintf("%d:%02d:%02d", ms/3600_000, ms/60_000%60, ms/1000%60)
		if rest := ms % 1000; rest != 0 {
			text += strings.TrimRight(fmt.Sprintf(".%03d", rest), "0")
		}
		return text, true
	}
	day, err := excelize.ExcelDateToTime(math.Floor(serial), since1904)
	if err != nil {
		return "", false
	}
	rest := serial - math.Floor(serial)
	at := day.Add(time.Duration(math.Round(rest*86400_000)) * time.Millisecond)
	if !f.clock && rest == 0 {
		return at.Format(time.DateOnly), true
	}
	return at.Format("2006-01-02T15:04:05.999"), true
}
