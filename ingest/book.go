package ingest

import (
	"context"
	"fmt"
	"os"
	"strings"

	"sheetwash/ingest/issue"
	"sheetwash/ingest/mapping"
	"sheetwash/ingest/table"
)

// openBook opens the sheets of a workbook; what is wrong with the workbook as a
// whole is in the list.
func openBook(f file) ([]table.Table, *issue.List, error) {
	r, err := os.Open(f.disk)
	if err != nil {
		return nil, nil, fmt.Errorf("read %s: %w", f.name, err)
	}
	defer r.Close()
	return table.OpenWorkbook(f.name, r)
}

// openSheet opens the sheet and range of a location. Without a sheet's name the
// workbook must have one sheet only.
func openSheet(f file, at mapping.Location) (table.Table, error) {
	sheet := at.Sheet
	if sheet == "" {
		sheets, issues, err := openBook(f)
		if err != nil {
			return nil, err
		}
		if len(sheets) == 1 && at.Range == "" {
			sheets[0].Issues().AddAll(issues)
			return sheets[0], nil
		}
		for _, s := range sheets {
			s.Close()
		}
		if len(sheets) != 1 {
			if issues.Errors() == 0 {
				issues.Add(issue.Issue{Code: table.CodeWorkbookSheet, Severity: issue.Error, File: f.name,
					Message: fmt.Sprintf("the workbook has %d sheets: name one in mapping.yaml", len(sheets))})
			}
			return unread{f.name, issues}, nil
		}
		_, sheet, _ = strings.Cut(sheets[0].File(), "#")
	}
	r, err := os.Open(f.disk)
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", f.name, err)
	}
	defer r.Close()
	t, issues, err := table.OpenSheetRange(f.name, r, sheet, at.Range)
	if err != nil {
		return nil, err
	}
	if t == nil {
		return unread{f.name, issues}, nil
	}
	t.Issues().AddAll(issues)
	return t, nil
}

// unread is a table that could not be opened; its issues say why.
type unread struct {
	file   string
	issues *issue.List
}

func (u unread) File() string          { return u.file }
func (u unread) Name() string          { return table.BaseName(u.file) }
func (u unread) Fields() []table.Field { return nil }
func (u unread) Issues() *issue.List   { return u.issues }
func (u unread) DecimalComma() bool    { return false }
func (u unread) Close() error          { return nil }
func (u unread) Scan(context.Context, table.ScanOptions, func(*table.Batch) any, func(any)) error {
	return nil
}
