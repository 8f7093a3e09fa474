package ingest_test

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"sheetwash/ingest"
	"sheetwash/ingest/columnar"
	"sheetwash/ingest/issue"
)

// generated is a bad input that is made when the test runs, because it is
// binary, hostile or large.
type generated struct {
	name string
	code issue.Code
	make func(t *testing.T, dir string) string // returns the path to give to Find
	opt  ingest.Options
	file string
	row  int64
	col  string
}

// member is one entry of an archive, written as it stands.
type member struct {
	header zip.FileHeader
	body   string
}

func stored(name, body string) member {
	return member{zip.FileHeader{Name: name, Method: zip.Store, CompressedSize64: uint64(len(body)), UncompressedSize64: uint64(len(body))}, body}
}

// rawZip writes members without the care that a zip writer takes.
func rawZip(members ...member) func(*testing.T, string) string {
	return func(t *testing.T, dir string) string {
		t.Helper()
		var b bytes.Buffer
		w := zip.NewWriter(&b)
		for _, m := range members {
			f, err := w.CreateRaw(&m.header)
			if err != nil {
				t.Fatal(err)
			}
			if _, err := f.Write([]byte(m.body)); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		return put(t, dir, "day.zip", b.Bytes())
	}
}

func put(t *testing.T, dir, name string, data []byte) string {
	t.Helper()
	p := filepath.Join(dir, name)
	if err := os.WriteFile(p, data, 0o644); err != nil {
		t.Fatal(err)
	}
	return p
}

// with writes a good dataset in which one file is replaced or added.
func with(drop, name string, data func(t *testing.T) []byte) func(*testing.T, string) string {
	return func(t *testing.T, dir string) string {
		t.Helper()
		for n, text := range dataset("") {
			if n != drop {
				put(t, dir, n, []byte(text))
			}
		}
		put(t, dir, name, data(t))
		return dir
	}
}

func text(s string) func(*testing.T) []byte { return func(*testing.T) []byte { return []byte(s) } }

func changed(m member, f func(*zip.FileHeader)) member { f(&m.header); return m }

// arrow writes a samples table with one more column.
func arrow(extra columnar.OutColumn) func(t *testing.T) []byte {
	return func(t *testing.T) []byte {
		t.Helper()
		var b bytes.Buffer
		err := columnar.Write(&b, columnar.ArrowFile, &columnar.OutTable{Columns: []columnar.OutColumn{
			{Name: "run", Text: []string{"R1", "R1"}}, {Name: "plot", Text: []string{"1", "1"}}, {Name: "stream", Text: []string{"runoff", "runoff"}},
			{Name: "end", Unit: "min", Kind: columnar.OutFloat, Float: []float64{10, 30}}, extra,
		}})
		if err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
}

func packed(t *testing.T, text string) []byte {
	t.Helper()
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	if _, err := w.Write([]byte(text)); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// book writes a workbook of one sheet whose rows are XML.
func book(sheet, rows string) func(t *testing.T) []byte {
	const head = `<?xml version="1.0" encoding="UTF-8" standalone="yes"?>`
	const main = `http://schemas.openxmlformats.org/spreadsheetml/2006/main`
	const rel = `http://schemas.openxmlformats.org/officeDocument/2006/relationships`
	return func(t *testing.T) []byte {
		return pack(t, map[string]string{
			"[Content_Types].xml":        head + `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/><Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/><Override PartName="/xl/styles.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.styles+xml"/><Override PartName="/xl/worksheets/sheet1.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/></Types>`,
			"_rels/.rels":                head + `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="` + rel + `/officeDocument" Target="xl/workbook.xml"/></Relationships>`,
			"xl/workbook.xml":            head + `<workbook xmlns="` + main + `" xmlns:r="` + rel + `"><sheets><sheet name="` + sheet + `" sheetId="1" r:id="rId1"/></sheets></workbook>`,
			"xl/_rels/workbook.xml.rels": head + `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="` + rel + `/worksheet" Target="worksheets/sheet1.xml"/><Relationship Id="rId2" Type="` + rel + `/styles" Target="styles.xml"/></Relationships>`,
			"xl/styles.xml":              head + `<styleSheet xmlns="` + main + `"><cellXfs count="2"><xf numFmtId="0"/><xf numFmtId="14" applyNumberFormat="1"/></cellXfs></styleSheet>`,
			"xl/worksheets/sheet1.xml":   head + `<worksheet xmlns="` + main + `"><sheetData>` + rows + `</sheetData></worksheet>`,
		})
	}
}

// sheetRow writes one row of inline texts, with one more cell as XML.
func sheetRow(r int, last string, cells ...string) string {
	var b strings.Builder
	fmt.Fprintf(&b, `<row r="%d">`, r)
	for i, c := range cells {
		fmt.Fprintf(&b, `<c r="%c%d" t="inlineStr"><is><t>%s</t></is></c>`, 'A'+i, r, c)
	}
	return b.String() + last + "</row>"
}

var canHeader = []string{"calibration", "x [cm]", "depth [mm]", "duration [min]"}

func generatedCases() []generated {
	whole := []member{stored("runs.csv", goodRuns), stored("plots.csv", goodPlots), stored("samples.csv", goodSamples)}
	zipped := func(code issue.Code, m ...member) generated {
		return generated{name: string(code), code: code, make: rawZip(append(slices.Clone(whole), m...)...), file: "day.zip"}
	}
	named := func(name string, g generated) generated { g.name = name; return g }
	soil := func(s string) string {
		return "run,plot,treatment,area [m2],soil\nR1,1,meadow fescue ley,0.75,\"" + s + "\"\n"
	}
	return []generated{
		zipped(ingest.ZipUnsafeName, stored("../outside.csv", "x")),
		named("zip.unsafe_name absolute", zipped(ingest.ZipUnsafeName, stored("/etc/outside.csv", "x"))),
		named("zip.unsafe_name backslash", zipped(ingest.ZipUnsafeName, stored(`..\outside.csv`, "x"))),
		zipped(ingest.ZipNotAFile, changed(stored("link.csv", "/etc/hostname"), func(h *zip.FileHeader) { h.SetMode(os.ModeSymlink | 0o777) })),
		zipped(ingest.ZipTwice, stored("runs.csv", goodRuns)),
		zipped(ingest.ZipEncrypted, changed(stored("secret.csv", "x"), func(h *zip.FileHeader) { h.Flags |= 1 })),
		zipped(ingest.ZipNested, stored("more.zip", "x")),
		zipped(ingest.ZipBomb, changed(stored("zeros.csv", "x"), func(h *zip.FileHeader) { h.UncompressedSize64 = 1 << 40 })),
		named("zip.bomb ratio", zipped(ingest.ZipBomb, changed(stored("zeros.csv", "x"), func(h *zip.FileHeader) { h.UncompressedSize64 = 65 << 20 }))),
		{name: "zip.bomb members", code: ingest.ZipBomb, make: rawZip(whole...), opt: ingest.Options{Limits: ingest.Limits{Members: 2}}, file: "day.zip"},
		{name: "zip.damaged", code: ingest.ZipDamaged, make: func(t *testing.T, dir string) string {
			z := pack(t, dataset(""))
			return put(t, dir, "day.zip", z[:len(z)-30])
		}, file: "day.zip"},
		{name: "zip.damaged member", code: ingest.ZipDamaged, file: "samples.csv", make: rawZip(whole[0], whole[1],
			changed(whole[2], func(h *zip.FileHeader) { h.CRC32 = 1 }))},
		{name: "zip.damaged size", code: ingest.ZipDamaged, file: "samples.csv", make: rawZip(whole[0], whole[1],
			changed(whole[2], func(h *zip.FileHeader) { h.Method, h.UncompressedSize64 = zip.Deflate, 3 }))},
		{name: "dataset.none", code: ingest.DatasetNone, make: rawZip(stored("x.csv", "Time,Rate\n1,2\n")), file: "day.zip"},

		{name: "file.too_large", code: "file.too_large", file: "samples.csv.gz", row: 3, opt: ingest.Options{Limits: ingest.Limits{Unpacked: 90}},
			make: with("samples.csv", "samples.csv.gz", func(t *testing.T) []byte { return packed(t, goodSamples) })},
		{name: "csv.field_too_long", code: "csv.field_too_long", file: "plots.csv", row: 2, col: "soil", make: with("plots.csv", "plots.csv", text(soil(strings.Repeat("x", 1<<20+1))))},
		{name: "csv.record_too_long", code: "csv.record_too_long", file: "plots.csv", row: 2, make: with("plots.csv", "plots.csv", text(strings.Replace(soil("y"), "\"y\"", strings.Repeat("x", 17<<20), 1)))},
		{name: "table.too_large", code: ingest.TableTooLarge, file: "samples.csv", opt: ingest.Options{MaxRows: 1}, make: with("", "README", text(""))},
		{name: "table.too_large readings", code: ingest.TableTooLarge, file: "readings.csv", opt: ingest.Options{Limits: ingest.Limits{Readings: 1}},
			make: with("", "readings.csv", text("run,plot,time [s],channel,value\nR1,1,0,turbidity,1\nR1,1,9,turbidity,1\n"))},
		{name: "table.too_wide", code: ingest.TableTooWide, file: "runs.csv", row: 1, opt: ingest.Options{Limits: ingest.Limits{Columns: 2}}, make: with("", "README", text(""))},
		{name: "readings.too_many_series", code: "readings.too_many_series", file: "readings.csv", row: 200002, make: with("", "readings.csv", func(*testing.T) []byte {
			var b bytes.Buffer
			b.WriteString("run,plot,time [s],channel,value\n")
			for i := range 200_001 {
				fmt.Fprintf(&b, "R1,%d,0,turbidity,1\n", i)
			}
			return b.Bytes()
		})},

		{name: "unit.conflict", code: "unit.conflict", file: "samples.arrow", col: "volume [mL]",
			make: with("samples.csv", "samples.arrow", arrow(columnar.OutColumn{Name: "volume [mL]", Unit: "L", Kind: columnar.OutFloat, Float: []float64{1, 2}}))},
		{name: "columnar.text", code: "columnar.text", file: "samples.arrow", row: 2, col: "flag",
			make: with("samples.csv", "samples.arrow", arrow(columnar.OutColumn{Name: "flag", Text: []string{"ok", "o\xffk"}}))},
		{name: "columnar.header", code: "columnar.header", file: "samples.arrow",
			make: with("samples.csv", "samples.arrow", arrow(columnar.OutColumn{Name: "", Text: []string{"ok", "ok"}}))},

		{name: "workbook.cell_error", code: "workbook.cell_error", file: "cans.xlsx#cans", row: 2, col: "depth [mm]", make: with("", "cans.xlsx", book("cans",
			sheetRow(1, "", canHeader...)+sheetRow(2, `<c r="C2" t="e"><v>#DIV/0!</v></c><c r="D2"><v>10</v></c>`, "C-1", "30")))},
		{name: "workbook.formula", code: "workbook.formula", file: "cans.xlsx#cans", row: 2, col: "depth [mm]", make: with("", "cans.xlsx", book("cans",
			sheetRow(1, "", canHeader...)+sheetRow(2, `<c r="C2"><f>6+6</f></c><c r="D2"><v>10</v></c>`, "C-1", "30")))},
		{name: "workbook.date", code: "workbook.date", file: "cans.xlsx#cans", row: 2, col: "depth [mm]", make: with("", "cans.xlsx", book("cans",
			sheetRow(1, "", canHeader...)+sheetRow(2, `<c r="C2" s="1"><v>-5000</v></c><c r="D2"><v>10</v></c>`, "C-1", "30")))},
		{name: "workbook.sheet", code: "workbook.sheet", file: "book.xlsx", make: func(t *testing.T, dir string) string {
			put(t, dir, "book.xlsx", book("cans", sheetRow(1, "", canHeader...))(t))
			put(t, dir, "mapping.yaml", []byte("tables:\n  cans:\n    file: book.xlsx\n    sheet: Cans 2031\n"))
			return dir
		}},
		{name: "workbook.too_large", code: "workbook.too_large", file: "cans.xlsx", make: with("", "cans.xlsx", func(t *testing.T) []byte {
			return append([]byte("PK\x03\x04"), make([]byte, 64<<20)...)
		})},
	}
}

// TestBadGenerated is TestBad for inputs that are made on the spot.
func TestBadGenerated(t *testing.T) {
	for _, g := range generatedCases() {
		t.Run(g.name, func(t *testing.T) {
			o := readOnly(t, g.make(t, t.TempDir()), g.opt)
			if o.Dataset != nil {
				t.Errorf("accepted, want refused; findings:%s", list(o.Issues))
			}
			if !slices.ContainsFunc(o.Issues, func(i issue.Issue) bool {
				return i.Code == g.code && i.Severity == issue.Error && i.File == g.file && i.Row == g.row && i.Column == g.col && i.Message != ""
			}) {
				t.Errorf("no error %s at %s:%d [%s]; findings:%s", g.code, g.file, g.row, g.col, list(o.Issues))
			}
		})
	}
}

// elsewhere are codes whose bad input only the tests of their own package can make.
var elsewhere = map[string]string{
	"columnar.type":      "needs a type that the writer of this program does not write",
	"columnar.too_large": "needs a declared size that the writer does not write",
	"columnar.timeout":   "needs hours",
	"dataset.unreadable": "needs a disk that fails",
	"file.name":          "needs an upload: TestFindFiles",
	"dataset.several":    "needs an upload to the service",
}

// TestEveryErrorHasAFixture asks for a bad input of every code that can reject a dataset.
func TestEveryErrorHasAFixture(t *testing.T) {
	have := map[string]bool{}
	for _, e := range readExpected(t) {
		have[string(e.code)] = true
	}
	for _, g := range generatedCases() {
		have[string(g.code)] = true
	}
	for code, severity := range documented(t) {
		if strings.Contains(severity, "error") && !have[code] && elsewhere[code] == "" {
			t.Errorf("%s has no fixture", code)
		}
	}
}
