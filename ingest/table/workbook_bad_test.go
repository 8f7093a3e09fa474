package table_test

import (
	"archive/zip"
	"bytes"
	"io"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"sheetwash/ingest/issue"
	"sheetwash/ingest/table"
)

// rewrite changes parts of a workbook.
func rewrite(t testing.TB, data []byte, change func(name string, part []byte) []byte) []byte {
	t.Helper()
	in, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	out := zip.NewWriter(&b)
	for _, f := range in.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		part, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		w, err := out.Create(f.Name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write(change(f.Name, part)); err != nil {
			t.Fatal(err)
		}
	}
	if err := out.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func smallBook(t testing.TB) []byte {
	return book(t, func(f *excelize.File, set func(string, any)) {
		set("A1", "run")
		set("B1", "volume")
		set("A2", "AM-1")
		set("B2", 740)
	})
}

// What is wrong with a workbook as a whole is one finding, in little time and
// memory.
func TestBadWorkbooks(t *testing.T) {
	good := smallBook(t)
	sheetXML := func(rows string) []byte {
		return rewrite(t, good, func(name string, part []byte) []byte {
			if !strings.HasPrefix(name, "xl/worksheets/") {
				return part
			}
			start, end := bytes.Index(part, []byte("<sheetData>")), bytes.Index(part, []byte("</sheetData>"))
			return slices.Concat(part[:start+len("<sheetData>")], []byte(rows), part[end:])
		})
	}
	for _, tt := range []struct {
		name string
		data []byte
		want issue.Code
	}{
		{"nothing", nil, table.CodeWorkbookDamaged},
		{"not a zip", []byte("run,plot\n"), table.CodeWorkbookDamaged},
		{"the old format", append([]byte{0xD0, 0xCF, 0x11, 0xE0}, make([]byte, 600)...), table.CodeWorkbookFormat},
		{"cut off", good[:len(good)/2], table.CodeWorkbookDamaged},
		{"a far column in every row", sheetXML(strings.Repeat(`<row><c r="XFD1"><v>1</v></c></row>`, 1000)), table.CodeWorkbookTooLarge},
		{"a far column behind entities", sheetXML(`<row r="1"><c r="&#88;FD1"><v>1</v></c></row>`), table.CodeWorkbookDamaged},
		{"a wide row", sheetXML(`<row r="1"><c r="XFD1"><v>1</v></c></row>`), table.CodeWorkbookTooLarge},
		{"parts that swell", rewrite(t, good, func(name string, part []byte) []byte {
			if name == "docProps/app.xml" {
				return make([]byte, 300<<20)
			}
			return part
		}), table.CodeWorkbookTooLarge},
		{"another encoding", rewrite(t, good, func(name string, part []byte) []byte {
			return bytes.Replace(part, []byte(`encoding="UTF-8"`), []byte(`encoding="UTF-16"`), 1)
		}), table.CodeWorkbookDamaged},
	} {
		t.Run(tt.name, func(t *testing.T) {
			tables, issues, err := table.OpenWorkbook("book.xlsx", bytes.NewReader(tt.data))
			if err != nil || len(tables) != 0 {
				t.Fatalf("%d tables, %v", len(tables), err)
			}
			all := issues.All()
			if len(all) != 1 || all[0].Code != tt.want || all[0].Message == "" {
				t.Errorf("%v, want %s", all, tt.want)
			}
		})
	}
}

// Damage of any kind gives a table or a finding.
func TestWorkbookMutations(t *testing.T) {
	good := smallBook(t)
	rng := rand.New(rand.NewPCG(7, 2031))
	for range 300 {
		bad := bytes.Clone(good)
		for range 1 + rng.IntN(4) {
			bad[rng.IntN(len(bad))] ^= 1 << rng.IntN(8)
		}
		if rng.IntN(4) == 0 {
			bad = bad[:rng.IntN(len(bad))]
		}
		readAny(t, bad)
	}
	// The parts themselves, so that damage passes the checksum of the archive.
	for range 300 {
		readAny(t, rewrite(t, good, func(name string, part []byte) []byte {
			for range rng.IntN(3) {
				part[rng.IntN(len(part))] ^= 1 << rng.IntN(8)
			}
			return part
		}))
	}
}

func readAny(t testing.TB, data []byte) {
	t.Helper()
	tables, issues, err := table.OpenWorkbook("book.xlsx", bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	if len(tables) == 0 && issues == nil {
		t.Fatal("neither a table nor a list")
	}
	for _, tab := range tables {
		readSheet(t, tab, nil)
	}
}

func FuzzOpenWorkbook(f *testing.F) {
	f.Add(smallBook(f))
	f.Add([]byte("PK\x03\x04"))
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 1<<20 {
			return
		}
		readAny(t, data)
	})
}
