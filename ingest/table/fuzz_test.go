package table

import (
	"slices"
	"strings"
	"testing"
)

// Whatever the bytes: no panic, cells within the file, rows ascending, and
// where the file is valid the cells of encoding/csv.
func FuzzText(f *testing.F) {
	for _, s := range []string{
		"a,b\n1,2\n", "a;b\n1,5;2\n", "\ufeffa\tb\r\n1\t2\r\n", "a,b\n\"x\ny\",\"\"\"\"\n", "# c\na b\n1 2\n",
		"\xff\xfea\x00,\x00b\x00\n\x00", "a,b\n\x00,\xe4\n", "a,\"b\n", "sep=;\na;b\n", "a\r1\r2", "\x1f\x8b\x08\x00", "\x28\xb5\x2f\xfd\x00",
		"a,b\n\n ,\n\"1\"x,2\n5\",3\n",
	} {
		f.Add([]byte(s), uint8(7), uint8(5))
	}
	f.Fuzz(func(t *testing.T, content []byte, block, head uint8) {
		opt := TextOptions{blockSize: int(block) + 1, headSize: int(head) + 1, maxRecord: 4096, MaxBytes: 1 << 13}
		got := scanAny(t, content, opt, ScanOptions{Workers: 2})
		again := scanAny(t, content, opt, ScanOptions{Workers: 1})
		if !slices.EqualFunc(got.rows, again.rows, slices.Equal[[]string]) || !slices.Equal(got.issues, again.issues) {
			t.Fatalf("workers matter: %q %v and %q %v", got.rows, got.issues, again.rows, again.issues)
		}
		for i, n := range got.nums {
			if i > 0 && n <= got.nums[i-1] || n < 2 {
				t.Fatalf("row numbers %v", got.nums)
			}
			if len(got.rows[i]) != len(got.fields) {
				t.Fatalf("row %d has %d cells, header %d", n, len(got.rows[i]), len(got.fields))
			}
		}
		agree(t, content)
	})
}

// agree compares with encoding/csv where that accepts the file, at full block size.
func agree(t *testing.T, content []byte) {
	text := string(content)
	if strings.ContainsAny(text, "\x00") || strings.HasPrefix(text, "\xff\xfe") || strings.HasPrefix(text, "\xfe\xff") ||
		strings.HasPrefix(text, "\x1f\x8b") || strings.HasPrefix(text, "\x28\xb5\x2f\xfd") || strings.HasPrefix(text, "\ufeff") || !isASCII(content) {
		return
	}
	if strings.Contains(text, "\r") && (!strings.Contains(text, "\n") || strings.Contains(strings.ReplaceAll(text, "\r\n", ""), "\r")) {
		return // encoding/csv does not know a carriage return alone
	}
	records, err := standard(text)
	if err != nil || len(records) == 0 || text[0] == '#' || strings.Contains(text, "\n#") || strings.HasPrefix(strings.ToLower(strings.TrimLeft(text, " \t\r\n")), "sep=") {
		return
	}
	records = slices.DeleteFunc(records, func(r []string) bool { return strings.Trim(strings.Join(r, ""), " \t") == "" })
	if len(records) == 0 || strings.Trim(strings.SplitN(strings.TrimLeft(text, " \t\r\n"), "\n", 2)[0], " \t\r,\"") == "" {
		return
	}
	want := slices.DeleteFunc(records[1:], func(r []string) bool { return len(r) != len(records[0]) })
	for _, r := range want {
		for i := range r {
			r[i] = strings.TrimRight(r[i], "")
		}
	}
	got := scanAny(t, content, TextOptions{Delimiter: ','}, ScanOptions{Workers: 1})
	for _, r := range got.rows {
		for i := range r {
			r[i] = strings.ReplaceAll(r[i], "\r\n", "\n") // as encoding/csv does within quotes
		}
	}
	if !slices.EqualFunc(got.rows, want, slices.Equal[[]string]) {
		t.Fatalf("%q: rows %q, encoding/csv %q", text, got.rows, want)
	}
}
