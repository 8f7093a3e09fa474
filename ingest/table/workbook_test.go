package table_test

import (
	"bytes"
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"sheetwash/ingest/issue"
	"sheetwash/ingest/table"
)

// book writes a workbook of one sheet "Plots" with a function.
func book(t testing.TB, fill func(f *excelize.File, set func(cell string, v any))) []byte {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	if err := f.SetSheetName("Sheet1", "Plots"); err != nil {
		t.Fatal(err)
	}
	fill(f, func(cell string, v any) {
		if err := f.SetCellValue("Plots", cell, v); err != nil {
			t.Fatal(err)
		}
	})
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// style formats a cell.
func style(t testing.TB, f *excelize.File, cell string, builtin int, custom string) {
	t.Helper()
	s := &excelize.Style{NumFmt: builtin}
	if custom != "" {
		s.CustomNumFmt = &custom
	}
	id, err := f.NewStyle(s)
	if err != nil {
		t.Fatal(err)
	}
	if err := f.SetCellStyle("Plots", cell, cell, id); err != nil {
		t.Fatal(err)
	}
}

// sheetContent is a table as text, with row numbers and the codes of its issues.
type sheetContent struct {
	names []string
	rows  []string // "number: cell|cell"
	codes []string // "code row column"
}

func readSheet(t testing.TB, tab table.Table, want []bool) sheetContent {
	t.Helper()
	var c sheetContent
	var all issue.List
	all.AddAll(tab.Issues())
	for _, f := range tab.Fields() {
		c.names = append(c.names, f.Name)
	}
	err := tab.Scan(context.Background(), table.ScanOptions{Workers: 2, Want: want}, func(b *table.Batch) any { return b }, func(r any) {
		b := r.(*table.Batch)
		all.AddAll(&b.Issues)
		for i := range b.N {
			var cells []string
			for k := range b.Cols {
				if want == nil || want[k] {
					cells = append(cells, string(b.Cols[k].Bytes(i)))
				}
			}
			c.rows = append(c.rows, fmt.Sprintf("%d: %s", b.Row(i), strings.Join(cells, "|")))
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, i := range all.All() {
		c.codes = append(c.codes, strings.TrimSpace(fmt.Sprintf("%s %d %s", i.Code, i.Row, i.Column)))
	}
	return c
}

func openOne(t testing.TB, data []byte) table.Table {
	t.Helper()
	tables, issues, err := table.OpenWorkbook("day/book.xlsx", bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	if len(tables) != 1 {
		t.Fatalf("%d tables; %v", len(tables), issues.All())
	}
	return tables[0]
}

// The wanted texts: serial 48713 is 14 May 2033 less two years of 365 and 366
// days, that is day 47982 for 14 May 2031, as DATEVALUE of a spreadsheet gives it:
// 45658 is 1 January 2025, and six years with one leap day (2028) and 133 days follow.
func TestWorkbookCells(t *testing.T) {
	const day = 45658 + 6*365 + 1 + 133
	data := book(t, func(f *excelize.File, set func(string, any)) {
		set("B3", "run")
		set("C3", " volume (mL) ")
		set("D3", "when")
		set("B4", "AM-1")
		set("C4", 0.1+0.2)
		style(t, f, "C4", 2, "") // shown as 0.30
		set("D4", day)
		style(t, f, "D4", 14, "")
		set("B6", 12)
		set("C6", true)
		set("D6", day+0.25)
		style(t, f, "D6", 0, "dd/mm/yyyy hh:mm")
		set("D7", 6.5/1440)
		style(t, f, "D7", 45, "")
		set("D8", 1.25)
		style(t, f, "D8", 0, "[h]:mm:ss")
		set("D9", "not noted")
		style(t, f, "D9", 14, "")
		set("D10", day)
		style(t, f, "D10", 0, `d" of "mmmm`)
		set("D11", 12.5)
		style(t, f, "D11", 0, `0.0" m"`)
	})
	tab := openOne(t, data)
	if tab.Name() != "plots" || tab.File() != "day/book.xlsx#Plots" {
		t.Errorf("name %q, file %q", tab.Name(), tab.File())
	}
	got := readSheet(t, tab, nil)
	if want := []string{"", "run", "volume (mL)", "when"}; !slices.Equal(got.names, want) {
		t.Errorf("names %q, want %q", got.names, want)
	}
	want := []string{
		"4: |AM-1|0.3|2031-05-14",
		"6: |12|true|2031-05-14T06:00:00",
		"7: |||0:06:30",
		"8: |||30:00:00",
		"9: |||not noted",
		"10: |||2031-05-14",
		"11: |||12.5",
	}
	if !slices.Equal(got.rows, want) {
		t.Errorf("rows\n%s\nwant\n%s", strings.Join(got.rows, "\n"), strings.Join(want, "\n"))
	}
	if want := []string{"header.unnamed 3"}; !slices.Equal(got.codes, want) {
		t.Errorf("codes %q, want %q", got.codes, want)
	}
}

// Dates of a workbook that counts from 1904 are 1462 days further on.
func TestWorkbookSince1904(t *testing.T) {
	data := book(t, func(f *excelize.File, set func(string, any)) {
		yes := true
		if err := f.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: &yes}); err != nil {
			t.Fatal(err)
		}
		set("A1", "when")
		set("A2", 45658-1462)
		style(t, f, "A2", 14, "")
	})
	if got := readSheet(t, openOne(t, data), nil).rows; !slices.Equal(got, []string{"2: 2025-01-01"}) {
		t.Error(got)
	}
}

func TestWorkbookFindings(t *testing.T) {
	for _, tt := range []struct {
		name  string
		fill  func(f *excelize.File, set func(string, any))
		want  []bool
		rows  []string
		codes []string
	}{
		{
			name: "merged downwards",
			fill: func(f *excelize.File, set func(string, any)) {
				set("A1", "run")
				set("B1", "plot")
				set("A2", "AM-1")
				set("B2", 1)
				set("B3", 2)
				if err := f.MergeCell("Plots", "A2", "A3"); err != nil {
					t.Fatal(err)
				}
			},
			rows:  []string{"2: AM-1|1", "3: AM-1|2"},
			codes: []string{"workbook.merged 3 run"},
		},
		{
			name: "two columns of one name, one without, a cell beyond the header",
			fill: func(f *excelize.File, set func(string, any)) {
				set("A1", "run")
				set("B1", "run")
				set("A2", "AM-1")
				set("D2", "left over")
			},
			rows:  []string{"2: AM-1|||left over"},
			codes: []string{"header.unnamed 1", "header.duplicate 1 run"},
		},
		{
			name:  "a header only",
			fill:  func(f *excelize.File, set func(string, any)) { set("A1", "run") },
			codes: []string{"table.no_rows 1"},
		},
		{
			name: "a date that is none",
			fill: func(f *excelize.File, set func(string, any)) {
				set("A1", "when")
				set("A2", -3)
				style(t, f, "A2", 14, "")
			},
			rows:  []string{"2: -3"},
			codes: []string{"workbook.date 2 when"},
		},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := readSheet(t, openOne(t, book(t, tt.fill)), tt.want)
			if !slices.Equal(got.rows, tt.rows) || !slices.Equal(got.codes, tt.codes) {
				t.Errorf("rows %q, codes %q; want %q, %q", got.rows, got.codes, tt.rows, tt.codes)
			}
		})
	}
}

func TestOpenSheetRange(t *testing.T) {
	data := book(t, func(f *excelize.File, set func(string, any)) {
		set("A1", "Ashlock Mill, amber crew")
		set("B10", "run")
		set("C10", "volume")
		set("D10", "remark")
		set("B11", "AM-1")
		set("C11", 740)
		set("D11", "clear")
		set("B12", "AM-2")
		set("B14", "total")
	})
	tab, issues, err := table.OpenSheetRange("book.xlsx", bytes.NewReader(data), "plots", "$B$10:C12")
	if err != nil || tab == nil {
		t.Fatal(err, issues.All())
	}
	got := readSheet(t, tab, nil)
	if want := []string{"11: AM-1|740", "12: AM-2|"}; !slices.Equal(got.rows, want) || !slices.Equal(got.names, []string{"run", "volume"}) {
		t.Errorf("%q %q, want %q", got.names, got.rows, want)
	}
	for _, bad := range []struct{ sheet, cells string }{{"bottles", ""}, {"plots", "ten"}, {"plots", "C4:A1"}, {"plots", "X90:Z99"}} {
		tab, issues, err := table.OpenSheetRange("book.xlsx", bytes.NewReader(data), bad.sheet, bad.cells)
		if err != nil || tab != nil || len(issues.All()) != 1 || issues.All()[0].Code != table.CodeWorkbookSheet {
			t.Errorf("%v: %v, %v, %v", bad, tab, issues.All(), err)
		}
	}
}

// A formula gives the value that was stored with it. A fault of a cell counts where
// its column is asked for.
func TestWorkbookFormulas(t *testing.T) {
	for _, tt := range []struct {
		name, cell string
		want       []bool
		rows       []string
		codes      []string
	}{
		{"a number", `<c r="B2"><f>370*2</f><v>740</v></c>`, nil, []string{"2: AM-1|740"}, nil},
		{"text", `<c r="B2" t="str"><f>"tr"&amp;"ace"</f><v>trace</v></c>`, nil, []string{"2: AM-1|trace"}, nil},
		{"empty text", `<c r="B2" t="str"><f>IF(1,"","")</f><v></v></c>`, nil, []string{"2: AM-1|"}, nil},
		{"true", `<c r="B2" t="b"><f>1=1</f><v>1</v></c>`, nil, []string{"2: AM-1|true"}, nil},
		{"an ISO date", `<c r="B2" t="d"><v>2031-05-14T10:05:00</v></c>`, nil, []string{"2: AM-1|2031-05-14T10:05:00"}, nil},
		{"an error", `<c r="B2" t="e"><f>1/0</f><v>#DIV/0!</v></c>`, nil, []string{"2: AM-1|#DIV/0!"}, []string{"workbook.cell_error 2 volume"}},
		{"an error that nobody asks for", `<c r="B2" t="e"><f>1/0</f><v>#DIV/0!</v></c>`, []bool{true, false}, []string{"2: AM-1"}, nil},
		{"never computed", `<c r="B2"><f>370*2</f></c>`, nil, []string{"2: AM-1|"}, []string{"workbook.formula 2 volume"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			data := rewrite(t, smallBook(t), func(_ string, part []byte) []byte {
				return bytes.Replace(part, []byte(`<c r="B2"><v>740</v></c>`), []byte(tt.cell), 1)
			})
			got := readSheet(t, openOne(t, data), tt.want)
			if !slices.Equal(got.rows, tt.rows) || !slices.Equal(got.codes, tt.codes) {
				t.Errorf("rows %q, codes %q; want %q, %q", got.rows, got.codes, tt.rows, tt.codes)
			}
		})
	}
}
