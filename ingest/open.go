package ingest

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path"
	"strings"

	"sheetwash/ingest/columnar"
	"sheetwash/ingest/issue"
	"sheetwash/ingest/mapping"
	"sheetwash/ingest/table"
)

// isBook reports whether a file is a workbook by its name.
func isBook(name string) bool { return strings.EqualFold(path.Ext(name), ".xlsx") }

// openTable opens a text or columnar file as a table, known by its content.
func openTable(ctx context.Context, disk, name, tableName string, format mapping.Format, l Limits) (table.Table, error) {
	head, err := firstBytes(disk, columnar.HeadSize)
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", name, err)
	}
	_, ext := splitName(strings.ToLower(path.Base(name)))
	named := ext == ".arrow" || ext == ".arrows" || ext == ".feather" || ext == ".parquet"
	if named && len(head) > 0 || columnar.Detect(head) != columnar.NotColumnar {
		return columnar.Open(ctx, name, tableName, columnar.Source{Path: disk}, columnar.Options{})
	}
	f, err := os.Open(disk)
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", name, err)
	}
	opt := table.TextOptions{MaxField: l.Cell, Encoding: format.Encoding}
	if isCompressed(head) {
		opt.MaxBytes = l.Unpacked
	}
	if format.Delimiter != "" {
		opt.Delimiter = format.Delimiter[0]
	}
	if format.Decimal != "" {
		opt.Decimal = format.Decimal[0]
	}
	t, err := table.OpenText(name, tableName, io.Reader(f), opt)
	if err != nil {
		f.Close()
		return nil, err
	}
	return t, nil
}

func isCompressed(head []byte) bool {
	return bytes.HasPrefix(head, []byte("\x1f\x8b")) || bytes.HasPrefix(head, []byte("\x28\xb5\x2f\xfd"))
}

// sniffHeaders returns which tables of the dictionary a file's headers make it,
// without reading its rows.
func sniffHeaders(ctx context.Context, disk, name string, l Limits) []string {
	var out []string
	opened, _, err := openAll(ctx, file{name: name, disk: disk}, l)
	if err != nil {
		return nil
	}
	for _, t := range opened {
		out = append(out, mapping.Recognise(t.Name(), t.Fields())...)
		t.Close()
	}
	return out
}

// openAll opens every table of a file: one, or the sheets of a workbook. What is
// wrong with the file as a whole is in the list.
func openAll(ctx context.Context, f file, l Limits) ([]table.Table, *issue.List, error) {
	if isBook(f.name) {
		return openBook(f)
	}
	t, err := openTable(ctx, f.disk, f.name, "", mapping.Format{}, l)
	if err != nil {
		return nil, nil, err
	}
	return []table.Table{t}, &issue.List{}, nil
}

// datasetFiles opens the files of one dataset for a mapping.
type datasetFiles struct {
	files  []file
	limits Limits
}

// Names returns the paths of the tables, sorted.
func (d datasetFiles) Names() []string {
	var out []string
	for _, f := range d.files {
		if f.role == roleTable || f.role == roleOther {
			out = append(out, f.name)
		}
	}
	return out
}

// Open opens the table at a location.
func (d datasetFiles) Open(ctx context.Context, at mapping.Location) (table.Table, error) {
	for _, f := range d.files {
		if f.name != at.File {
			continue
		}
		if isBook(f.name) {
			return openSheet(f, at)
		}
		return openTable(ctx, f.disk, f.name, "", at.Format, d.limits)
	}
	return nil, fmt.Errorf("open %s: %w", at.File, os.ErrNotExist)
}

// unusedTable is the note about a table that nothing reads.
func unusedTable(t table.Table) issue.Issue {
	return issue.Issue{Code: FileUnused, Severity: issue.Note, File: t.File(),
		Message: "the headers are not those of the data dictionary, and the table is not read: name it after a table, or describe it in mapping.yaml"}
}
