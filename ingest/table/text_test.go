package table

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"io"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"sheetwash/ingest/issue"
)

// scanned is everything that a table says.
type scanned struct {
	fields []string
	rows   [][]string
	nums   []int64
	lines  []int64
	issues []issue.Issue
}

// scan reads a whole text; cells that were not wanted are absent from its rows.
func scan(t *testing.T, file string, content []byte, opt TextOptions, so ScanOptions) scanned {
	t.Helper()
	return scanFile(t, file, content, opt, so)
}

// fataler is what the tests, the property tests and the fuzz targets share.
type fataler interface{ Fatalf(string, ...any) }

func scanAny(t fataler, content []byte, opt TextOptions, so ScanOptions) scanned {
	return scanFile(t, "x.csv", content, opt, so)
}

func scanFile(t fataler, file string, content []byte, opt TextOptions, so ScanOptions) scanned {
	tab, err := OpenText(file, "", bytes.NewReader(content), opt)
	if err != nil {
		t.Fatalf("OpenText: %v", err)
	}
	defer tab.Close()
	var out scanned
	for _, f := range tab.Fields() {
		out.fields = append(out.fields, f.Name)
	}
	type part struct {
		scanned
		list issue.List
	}
	var list issue.List
	list.AddAll(tab.Issues())
	err = tab.Scan(context.Background(), so, func(b *Batch) any {
		var p part
		for i := range b.N {
			var row []string
			for c := range b.Cols {
				if so.Want == nil || so.Want[c] {
					row = append(row, string(b.Cols[c].Bytes(i)))
				}
			}
			p.rows = append(p.rows, row)
			p.nums = append(p.nums, b.Row(i))
			p.lines = append(p.lines, b.Line(i))
		}
		p.list.AddAll(&b.Issues)
		return &p
	}, func(x any) {
		p := x.(*part)
		out.rows = append(out.rows, p.rows...)
		out.nums = append(out.nums, p.nums...)
		out.lines = append(out.lines, p.lines...)
		list.AddAll(&p.list)
	})
	if err != nil {
		t.Fatalf("Scan: %v", err)
	}
	if tab.File() != file || tab.Name() != BaseName(file) || tab.DecimalComma() != slices.ContainsFunc(list.All(), func(i issue.Issue) bool { return i.Code == CodeTextDecimalComma }) && opt.Decimal == 0 {
		t.Fatalf("the table says of itself %q %q %t", tab.File(), tab.Name(), tab.DecimalComma())
	}
	out.issues = list.All()
	return out
}

func codes(s scanned) []string {
	var out []string
	for _, i := range s.issues {
		c := string(i.Code)
		if i.Row > 0 {
			c += "@" + strconv.FormatInt(i.Row, 10)
		}
		out = append(out, c)
	}
	slices.Sort(out)
	return out
}

func utf16Bytes(s string, e unicode.Endianness, mark unicode.BOMPolicy) []byte {
	b, err := unicode.UTF16(e, mark).NewEncoder().Bytes([]byte(s))
	if err != nil {
		panic(err)
	}
	return b
}

func gz(s string) []byte {
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	io.WriteString(w, s)
	w.Close()
	return b.Bytes()
}

func zst(s string) []byte {
	w, _ := zstd.NewWriter(nil)
	return w.EncodeAll([]byte(s), nil)
}

func win1252(s string) []byte {
	b, err := charmap.Windows1252.NewEncoder().Bytes([]byte(s))
	if err != nil {
		panic(err)
	}
	return b
}

// numbered returns rows "x0,0" ... of a long table, for texts that have to be cut.
func numbered(n int) string {
	var b strings.Builder
	b.WriteString("name,number\n")
	for i := range n {
		b.WriteString("x" + strconv.Itoa(i*7919%n) + "," + strconv.Itoa(i) + "\n")
	}
	return b.String()
}

func TestText(t *testing.T) {
	ab := []string{"a", "b"}
	seen := map[issue.Code]bool{}
	for _, tt := range []struct {
		name, file string
		content    []byte
		opt        TextOptions
		fields     []string
		rows       [][]string
		nums       []int64
		codes      []string
		warns      bool
	}{
		{name: "plain", content: []byte("a,b\n1,2\n3,4\n"), fields: ab, rows: [][]string{{"1", "2"}, {"3", "4"}}, nums: []int64{2, 3}},
		{name: "no line end at the end", content: []byte("a,b\n1,2"), fields: ab, rows: [][]string{{"1", "2"}}, nums: []int64{2}},
		{name: "CRLF", content: []byte("a,b\r\n1,2\r\n3,\r\n"), fields: ab, rows: [][]string{{"1", "2"}, {"3", ""}}},
		{name: "CR at the very end", content: []byte("a,b\r\n1,2\r"), fields: ab, rows: [][]string{{"1", "2"}}},
		{name: "CR alone", content: []byte("a,b\r1,2\r3,4"), fields: ab, rows: [][]string{{"1", "2"}, {"3", "4"}}, codes: []string{"text.line_ends"}},
		{name: "blank rows count", content: []byte("a,b\n\n1,2\n ,\t\n,\n3,4\n\n"), fields: ab, rows: [][]string{{"1", "2"}, {"3", "4"}}, nums: []int64{3, 6}},
		{name: "comments count", content: []byte("# made by hand\n# \"twice\n\na,b\n1,2\n"), fields: ab, rows: [][]string{{"1", "2"}}, nums: []int64{5}, codes: []string{"text.comment"}},
		{name: "quotes", content: []byte("a,b\n\"x, y\",\"say \"\"so\"\"\"\n\"\",\"2\"\n"), fields: ab, rows: [][]string{{"x, y", `say "so"`}, {"", "2"}}},
		{name: "quoted line break", content: []byte("a,b\n\"x\ny\",1\nz,2\n"), fields: ab, rows: [][]string{{"x\ny", "1"}, {"z", "2"}}, nums: []int64{2, 3}},
		{name: "semicolons and decimal commas", content: []byte("a;b\n1,5;x\n2;y\n"), fields: ab, rows: [][]string{{"1,5", "x"}, {"2", "y"}}, codes: []string{"text.decimal_comma", "text.delimiter"}},
		{name: "decimal commas or thousands", content: []byte("a\tb\n1,234\t2\n"), fields: ab, rows: [][]string{{"1,234", "2"}}, codes: []string{"text.decimal_comma", "text.delimiter"}, warns: true},
		{name: "thousands and points", content: []byte("a\tb\n1,234.5\t2.5\n"), fields: ab, rows: [][]string{{"1,234.5", "2.5"}}, codes: []string{"text.delimiter"}},
		{name: "sep line", content: []byte("sep=|\na|b,c\n1|2\n"), fields: []string{"a", "b,c"}, rows: [][]string{{"1", "2"}}, nums: []int64{3}},
		{name: "tabs", content: []byte("a\tb\n1\t2\n"), fields: ab, rows: [][]string{{"1", "2"}}, codes: []string{"text.delimiter"}},
		{name: "bars", content: []byte("a|b\n1|2\n"), fields: ab, rows: [][]string{{"1", "2"}}, codes: []string{"text.delimiter"}},
		{name: "runs of blanks", content: []byte("  plot  value\n  1     2.5 \n \n  \"2 b\" 3\t\n"), fields: []string{"plot", "value"}, rows: [][]string{{"1", "2.5"}, {"2 b", "3"}}, nums: []int64{2, 4}, codes: []string{"text.delimiter"}},
		{name: "one column of words", content: []byte("treatment\nbarley stubble\nmeadow ley\n"), fields: []string{"treatment"}, rows: [][]string{{"barley stubble"}, {"meadow ley"}}},
		{name: "mark", content: []byte("\ufeffa,b\n1,2\n"), fields: ab, rows: [][]string{{"1", "2"}}, codes: []string{"text.encoding"}},
		{name: "UTF-16 little-endian with a mark", content: utf16Bytes("a,b\n1,ü\n", unicode.LittleEndian, unicode.UseBOM), fields: ab, rows: [][]string{{"1", "ü"}}, codes: []string{"text.encoding"}},
		{name: "UTF-16 big-endian with a mark", content: utf16Bytes("a,b\n1,ü\n", unicode.BigEndian, unicode.UseBOM), fields: ab, rows: [][]string{{"1", "ü"}}, codes: []string{"text.encoding"}},
		{name: "UTF-16 little-endian", content: utf16Bytes("a,b\n1,ü\n", unicode.LittleEndian, unicode.IgnoreBOM), fields: ab, rows: [][]string{{"1", "ü"}}, codes: []string{"text.encoding"}},
		{name: "UTF-16 big-endian", content: utf16Bytes("a,b\n1,ü\n", unicode.BigEndian, unicode.IgnoreBOM), fields: ab, rows: [][]string{{"1", "ü"}}, codes: []string{"text.encoding"}},
		{name: "lone surrogate", content: append(utf16Bytes("a,b\n1,2\n", unicode.LittleEndian, unicode.UseBOM), '3', 0, ',', 0, 0, 0xd8, '\n', 0), fields: ab, rows: [][]string{{"1", "2"}}, codes: []string{"text.encoding", "text.encoding@3"}},
		{name: "Windows-1252", content: win1252("a,b\nweiß,5 °C\n"), fields: ab, rows: [][]string{{"weiß", "5 °C"}}, codes: []string{"text.encoding"}},
		{name: "Windows-1252 far down", content: win1252("a,b\n" + strings.Repeat("1,2\n", 30) + "ä,€\n"), opt: TextOptions{blockSize: 40, headSize: 16}, fields: ab,
			rows: append(slices.Repeat([][]string{{"1", "2"}}, 30), []string{"ä", "€"}), codes: []string{"text.encoding"}},
		{name: "UTF-8, then something else", content: []byte("a,b\nä,2\n\xe4,3\n4,5\n"), opt: TextOptions{blockSize: 8, headSize: 8}, fields: ab, rows: [][]string{{"ä", "2"}, {"4", "5"}}, codes: []string{"text.encoding@3"}},
		{name: "Windows-1252 as stated", content: win1252("a,b\nä,2\n"), opt: TextOptions{Encoding: "windows-1252"}, fields: ab, rows: [][]string{{"ä", "2"}}},
		{name: "UTF-8 as stated and wrong", content: win1252("a,b\nä,2\n"), opt: TextOptions{Encoding: "utf-8"}, fields: ab, codes: []string{"text.encoding@2"}},
		{name: "UTF-16 as stated", content: utf16Bytes("a,b\nä,2\n", unicode.BigEndian, unicode.UseBOM), opt: TextOptions{Encoding: "utf-16"}, fields: ab, rows: [][]string{{"ä", "2"}}},
		{name: "a mark outranks what is stated", content: []byte("\ufeffa,b\nä,2\n"), opt: TextOptions{Encoding: "windows-1252"}, fields: ab, rows: [][]string{{"ä", "2"}}, codes: []string{"text.encoding"}},
		{name: "delimiter as stated", content: []byte("a;b,c\n1;2,5\n"), opt: TextOptions{Delimiter: ';', Decimal: ','}, fields: []string{"a", "b,c"}, rows: [][]string{{"1", "2,5"}}},
		{name: "NUL", content: []byte("a,b\n1,2\n3,\x00\n5,6\n"), fields: ab, rows: [][]string{{"1", "2"}, {"5", "6"}}, codes: []string{"text.nul@3"}},
		{name: "NUL in the header", content: []byte("a,b\x00\n1,2\n"), fields: []string{"a", "b\x00"}, rows: [][]string{{"1", "2"}}, codes: []string{"text.nul@1"}},
		{name: "ragged", content: []byte("a,b\n1\n2,3\n4,5,6\n"), fields: ab, rows: [][]string{{"2", "3"}}, nums: []int64{3}, codes: []string{"csv.ragged@2", "csv.ragged@4"}},
		{name: "unclosed quote", content: []byte("a,b\n1,2\n3,\"4\n5,6\n"), fields: ab, rows: [][]string{{"1", "2"}}, codes: []string{"csv.unclosed_quote@3"}},
		{name: "quote that a later one closes", content: []byte("a,b\n3,\"4\n5,\"6\"\n7,8\n"), fields: ab, rows: [][]string{{"7", "8"}}, codes: []string{"csv.unclosed_quote@2"}},
		{name: "unclosed quote in the header", content: []byte("a,\"b\n1,2\n"), codes: []string{"csv.unclosed_quote@1"}},
		{name: "text after a closing quote", content: []byte("a,b\n\"1\"x,2\n3,4\n"), fields: ab, rows: [][]string{{"3", "4"}}, codes: []string{"csv.bare_quote@2"}},
		{name: "quote inside a cell", content: []byte("a,b\n5\" pipe,2\n3,4\n"), fields: ab, rows: [][]string{{"3", "4"}}, codes: []string{"csv.bare_quote@2"}},
		{name: "bare quote in the header", content: []byte("a,b\"c\n1,2\n"), fields: []string{"a", `b"c`}, rows: [][]string{{"1", "2"}}, codes: []string{"csv.bare_quote@1"}},
		{name: "endless row", content: []byte("a,b\n1,2\n3," + strings.Repeat("x", 500) + "\n"), opt: TextOptions{blockSize: 16, headSize: 8, maxRecord: 100}, fields: ab, rows: [][]string{{"1", "2"}}, codes: []string{"csv.record_too_long@3"}},
		{name: "endless quote", content: []byte("a,b\n1,2\n3,\"" + strings.Repeat("x,\n", 500)), opt: TextOptions{blockSize: 16, headSize: 8, maxRecord: 100}, fields: ab, rows: [][]string{{"1", "2"}}, codes: []string{"csv.unclosed_quote@3"}},
		{name: "endless header", content: bytes.Repeat([]byte("x"), 500), opt: TextOptions{headSize: 8, maxRecord: 100}, codes: []string{"csv.record_too_long@1"}},
		{name: "endless columns", content: bytes.Repeat([]byte(","), 16384), codes: []string{"csv.record_too_long@1"}},
		{name: "long cell", content: []byte("a,b\n1,2\n123456789,1\n3,4\n"), opt: TextOptions{MaxField: 8}, fields: ab, rows: [][]string{{"1", "2"}, {"3", "4"}}, codes: []string{"csv.field_too_long@3"}},
		{name: "long row of short cells", content: []byte("a,b\n1,2\n123456,123456\n"), opt: TextOptions{MaxField: 8}, fields: ab, rows: [][]string{{"1", "2"}, {"123456", "123456"}}},
		{name: "same name twice", content: []byte("a,a,b\n1,2,3\n"), fields: []string{"a", "a", "b"}, rows: [][]string{{"1", "2", "3"}}, codes: []string{"header.duplicate@1"}},
		{name: "no name", content: []byte(",a,\n1,2,\n"), fields: []string{"", "a", ""}, rows: [][]string{{"1", "2", ""}}, codes: []string{"header.unnamed@1"}},
		{name: "header only", content: []byte("a,b\n"), fields: ab, codes: []string{"table.no_rows"}},
		{name: "empty", content: nil, codes: []string{"file.empty"}},
		{name: "blank lines only", content: []byte("\n \n\n"), codes: []string{"file.empty"}},
		{name: "comments only", content: []byte("# nothing"), codes: []string{"file.empty", "text.comment"}},
		{name: "gzip", file: "x.csv.gz", content: gz("a,b\n1,2\n"), fields: ab, rows: [][]string{{"1", "2"}}},
		{name: "gzip by content", file: "x.csv", content: gz("a,b\n1,2\n"), fields: ab, rows: [][]string{{"1", "2"}}, codes: []string{"file.compressed"}},
		{name: "zstd", file: "x.csv.zst", content: zst("a,b\n1,2\n"), fields: ab, rows: [][]string{{"1", "2"}}},
		{name: "gzip in name only", file: "x.csv.gz", content: []byte("a,b\n1,2\n"), codes: []string{"file.compressed@1"}},
		{name: "zstd in name only", file: "x.csv.zst", content: []byte("a,b\n1,2\n"), codes: []string{"file.compressed@1"}},
		{name: "empty gzip", file: "x.csv.gz", content: gz(""), codes: []string{"file.empty"}},
		{name: "longer than the limit", content: []byte("a,b\n1,2\n3,4\n5,6\n"), opt: TextOptions{MaxBytes: 13}, fields: ab, rows: [][]string{{"1", "2"}, {"3", "4"}}, codes: []string{"file.too_large@4"}},
		{name: "as long as the limit", content: []byte("a,b\n1,2\n"), opt: TextOptions{MaxBytes: 8}, fields: ab, rows: [][]string{{"1", "2"}}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			file := tt.file
			if file == "" {
				file = "day/plots.csv"
			}
			got := scan(t, file, tt.content, tt.opt, ScanOptions{Workers: 2})
			if !slices.Equal(got.fields, tt.fields) {
				t.Errorf("fields %q, want %q", got.fields, tt.fields)
			}
			if !slices.EqualFunc(got.rows, tt.rows, slices.Equal[[]string]) {
				t.Errorf("rows %q, want %q", got.rows, tt.rows)
			}
			if tt.nums != nil && !slices.Equal(got.nums, tt.nums) {
				t.Errorf("row numbers %v, want %v", got.nums, tt.nums)
			}
			if !slices.Equal(codes(got), tt.codes) {
				t.Errorf("issues %q, want %q\n%v", codes(got), tt.codes, got.issues)
			}
			for _, i := range got.issues {
				if i.Message == "" || i.File != file {
					t.Errorf("issue %+v has no message or not the file's name", i)
				}
				if tt.warns && i.Code != CodeTextDelimiter && i.Severity != issue.Warning {
					t.Errorf("issue %+v is no warning", i)
				}
				seen[i.Code] = true
			}
		})
	}
	for _, c := range TextCodes() {
		if !seen[c] {
			t.Errorf("no case has the code %s", c)
		}
	}
}

// A gzip file that was cut short must say so at the row that is reached, and
// give every row that is whole before it.
func TestTruncated(t *testing.T) {
	content := numbered(20_000)
	for file, packed := range map[string][]byte{"x.csv.gz": gz(content), "x.csv.zst": zst(content)} {
		got := scan(t, file, packed[:len(packed)*2/3], TextOptions{blockSize: 4096}, ScanOptions{Workers: 2})
		if len(got.issues) != 1 || got.issues[0].Code != CodeFileCompressed || got.issues[0].Severity != issue.Error {
			t.Fatalf("%s: issues %v", file, got.issues)
		}
		if want := int64(len(got.rows)) + 2; got.issues[0].Row != want {
			t.Errorf("%s: reported at row %d, want %d", file, got.issues[0].Row, want)
		}
		whole := scan(t, "x.csv", []byte(content), TextOptions{}, ScanOptions{Workers: 1})
		if !slices.EqualFunc(got.rows, whole.rows[:len(got.rows)], slices.Equal[[]string]) {
			t.Errorf("%s: the rows before the place differ", file)
		}
	}
}

// Damage in the first bytes of a packed file is found on opening.
func TestTruncatedHead(t *testing.T) {
	packed := gz("a,b\n1,2\n")
	got := scan(t, "x.csv.gz", packed[:len(packed)-9], TextOptions{}, ScanOptions{Workers: 1})
	if !slices.Contains(codes(got), "file.compressed@2") && !slices.Contains(codes(got), "file.compressed@1") && !slices.Contains(codes(got), "file.compressed@3") {
		t.Errorf("issues %v", codes(got))
	}
}

type failing struct{ left int }

func (f *failing) Read(p []byte) (int, error) {
	if f.left == 0 {
		return 0, errors.New("cable pulled")
	}
	n := min(len(p), f.left)
	f.left -= n
	return copy(p[:n], bytes.Repeat([]byte("1,2\n"), n/4+1)), nil
}

// A damaged member of an archive is a finding, as a damaged file is.
func TestDamagedMember(t *testing.T) {
	var packed bytes.Buffer
	w := zip.NewWriter(&packed)
	m, err := w.Create("x.csv")
	if err != nil {
		t.Fatal(err)
	}
	io.WriteString(m, numbered(20_000))
	w.Close()
	bytes := packed.Bytes()
	for i := range 50 {
		bytes[60_000+i] ^= 0x5a
	}
	r, err := zip.NewReader(&packedReader{bytes}, int64(len(bytes)))
	if err != nil {
		t.Fatal(err)
	}
	member, err := r.File[0].Open()
	if err != nil {
		t.Fatal(err)
	}
	tab, err := OpenText("day.zip/x.csv", "", member, TextOptions{})
	if err != nil {
		t.Fatal(err)
	}
	var got issue.List
	err = tab.Scan(context.Background(), ScanOptions{Workers: 2}, func(b *Batch) any { return &b.Issues }, func(x any) { got.AddAll(x.(*issue.List)) })
	if all := got.All(); err != nil || len(all) == 0 || all[len(all)-1].Code != CodeFileCompressed {
		t.Errorf("Scan: %v, %v", err, all)
	}
}

type packedReader struct{ b []byte }

func (r *packedReader) ReadAt(p []byte, off int64) (int, error) {
	return copy(p, r.b[off:]), nil
}

// A fault of the medium is an error and no finding.
func TestInputError(t *testing.T) {
	if _, err := OpenText("x.csv", "", &failing{left: 10}, TextOptions{}); err == nil || !strings.Contains(err.Error(), "cable pulled") {
		t.Errorf("OpenText: %v", err)
	}
	tab, err := OpenText("x.csv", "", &failing{left: 100_000}, TextOptions{})
	if err != nil {
		t.Fatal(err)
	}
	err = tab.Scan(context.Background(), ScanOptions{Workers: 2}, func(*Batch) any { return nil }, func(any) {})
	if err == nil || !strings.Contains(err.Error(), "cable pulled") {
		t.Errorf("Scan: %v", err)
	}
	if err := tab.Scan(context.Background(), ScanOptions{}, nil, nil); !errors.Is(err, ErrScanned) {
		t.Errorf("second Scan: %v", err)
	}
}

func TestScanStops(t *testing.T) {
	tab, err := OpenText("x.csv", "", strings.NewReader(numbered(50_000)), TextOptions{blockSize: 1024})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	n := 0
	err = tab.Scan(ctx, ScanOptions{Workers: 2}, func(*Batch) any { return nil }, func(any) {
		if n++; n == 3 {
			cancel()
		}
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("Scan: %v", err)
	}
}

// Lines of the file are given where they are not the rows, in findings as well.
func TestLines(t *testing.T) {
	got := scan(t, "x.csv", []byte("a,b\n1,\"x\n\ny\"\n2,z\n\n3,w\n4\n"), TextOptions{blockSize: 8, headSize: 4}, ScanOptions{Workers: 2})
	if want := []int64{2, 5, 7}; got.nums[2] != 5 || !slices.Equal(got.lines[1:], want[1:]) {
		t.Errorf("rows %v lines %v, want lines %v", got.nums, got.lines, want)
	}
	if len(got.issues) != 1 || got.issues[0].Row != 6 || !strings.Contains(got.issues[0].Message, "line 8 of") {
		t.Errorf("issues %v", got.issues)
	}
}

func TestBaseName(t *testing.T) {
	for in, want := range map[string]string{"day/Plots.csv.gz": "plots", "plots": "plots", ".hidden": ".hidden", `a\B.CSV`: "b"} {
		if got := BaseName(in); got != want {
			t.Errorf("BaseName(%q) = %q, want %q", in, got, want)
		}
	}
}

// standard reads the content with the standard library, as the yardstick.
func standard(content string) ([][]string, error) {
	r := csv.NewReader(strings.NewReader(content))
	r.FieldsPerRecord = -1
	return r.ReadAll()
}
