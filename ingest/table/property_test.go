package table

import (
	"bytes"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// drawCell draws the text of a cell with everything that needs quoting, or not.
func drawCell(t *rapid.T) string {
	switch rapid.IntRange(0, 5).Draw(t, "kind of cell") {
	case 0:
		return ""
	case 1:
		return rapid.StringMatching(`[0-9]{1,4}(\.[0-9]{1,3})?`).Draw(t, "number")
	case 2:
		return rapid.StringMatching(`[a-z ]{1,12}`).Draw(t, "word")
	case 3:
		return rapid.StringMatching(`[a-z,"\n]{0,10}`).Draw(t, "awkward")
	case 4:
		return strings.Repeat(rapid.SampledFrom([]string{"\n", "\"", ",", "é"}).Draw(t, "character"), rapid.IntRange(1, 40).Draw(t, "times"))
	default:
		return rapid.SampledFrom([]string{"µg", "°C", "runoff_mass", "P1"}).Draw(t, "term")
	}
}

// write puts a cell down, quoted where it must be or, at times, anyway.
func write(b *strings.Builder, cell string, anyway bool) {
	if anyway || strings.ContainsAny(cell, ",\"\n\r") || cell == "#" {
		b.WriteString(`"` + strings.ReplaceAll(cell, `"`, `""`) + `"`)
		return
	}
	b.WriteString(cell)
}

// A valid file read in tiny blocks on any number of workers gives the cells that
// were written, each with the number of its row.
func TestBlocksDoNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		columns := rapid.IntRange(1, 5).Draw(t, "columns")
		eol := rapid.SampledFrom([]string{"\n", "\r\n"}).Draw(t, "line end")
		var b strings.Builder
		for c := range columns {
			if c > 0 {
				b.WriteByte(',')
			}
			b.WriteString("c" + strconv.Itoa(c))
		}
		b.WriteString(eol)
		var want [][]string
		var nums []int64
		n := rapid.IntRange(0, 40).Draw(t, "rows")
		for r := range n {
			row := make([]string, columns)
			blank := true
			for c := range row {
				row[c] = drawCell(t)
				blank = blank && strings.Trim(row[c], " ") == ""
				if c > 0 {
					b.WriteByte(',')
				}
				write(&b, row[c], rapid.Bool().Draw(t, "quoted"))
			}
			b.WriteString(eol)
			if !blank {
				want, nums = append(want, row), append(nums, int64(r)+2)
			}
		}
		content := b.String()
		if rapid.Bool().Draw(t, "no last line end") && n > 0 {
			content = strings.TrimSuffix(content, eol)
		}
		opt := TextOptions{Delimiter: ',', blockSize: rapid.IntRange(1, 200).Draw(t, "block"), headSize: rapid.IntRange(1, 64).Draw(t, "head"), maxRecord: 1 << 16}
		for _, workers := range []int{1, 3} {
			got := scanAny(t, []byte(content), opt, ScanOptions{Workers: workers})
			if !slices.EqualFunc(got.rows, want, slices.Equal[[]string]) || !slices.Equal(got.nums, nums) {
				t.Fatalf("%d workers: rows %q %v, want %q %v\n%v", workers, got.rows, got.nums, want, nums, got.issues)
			}
		}
	})
}

// Whatever the bytes, the number of workers changes nothing, and where faults
// lie does not depend on where blocks are cut.
func TestWorkersAndBlocksOnAnyBytes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		content := []byte(strings.Join(rapid.SliceOfN(rapid.SampledFrom([]string{
			"a", "1", "2.5", ",", ",", "\n", "\n", "\r\n", "\"", "\"\"", " ", "x\"y", "\x00", "ä", "\r", "#", "1,2\n", "3,\"4\"\n",
		}), 0, 80).Draw(t, "pieces"), ""))
		content = append([]byte("a,b\n"), content...)
		one := scanAny(t, content, TextOptions{Delimiter: ','}, ScanOptions{Workers: 1})
		opt := TextOptions{Delimiter: ',', blockSize: rapid.IntRange(1, 30).Draw(t, "block"), headSize: 4}
		if !bytes.ContainsAny(content, "\n") {
			return
		}
		for _, workers := range []int{1, 3} {
			got := scanAny(t, content, opt, ScanOptions{Workers: workers})
			if !slices.EqualFunc(got.rows, one.rows, slices.Equal[[]string]) || !slices.Equal(got.nums, one.nums) || !slices.Equal(got.issues, one.issues) {
				t.Fatalf("blocks of %d, %d workers:\n%q %v %v\nin one block:\n%q %v %v", opt.blockSize, workers, got.rows, got.nums, got.issues, one.rows, one.nums, one.issues)
			}
		}
	})
}

// Wanting fewer columns changes nothing in those that are wanted.
func TestWanted(t *testing.T) {
	content := []byte("a,b,c\n1,2,3\n4,\"5\n\",6\n7,8,9\r\n")
	for _, size := range []int{1, 1000} {
		got := scanAny(t, content, TextOptions{blockSize: size, headSize: 6}, ScanOptions{Workers: 2, Want: []bool{false, true, true}})
		if want := [][]string{{"2", "3"}, {"5\n", "6"}, {"8", "9"}}; !slices.EqualFunc(got.rows, want, slices.Equal[[]string]) {
			t.Errorf("rows %q, want %q", got.rows, want)
		}
	}
}

// The number is that of strconv to the last bit for every decimal there is.
func TestParseFloatIsExact(t *testing.T) {
	decimal := rapid.OneOf(rapid.StringMatching(`[0-9]{1,4}[.]?[0-9]{0,4}`), rapid.StringMatching(`[+-]?([0-9]{1,25}(\.[0-9]{0,25})?|\.[0-9]{1,25})([eE][+-]?[0-9]{1,3})?`))
	rapid.Check(t, func(t *rapid.T) {
		text := decimal.Draw(t, "number")
		if rapid.Bool().Draw(t, "from a float") {
			f := rapid.Float64().Draw(t, "float")
			text = strconv.FormatFloat(f, rapid.SampledFrom([]byte{'g', 'f', 'e'}).Draw(t, "form"), rapid.IntRange(-1, 20).Draw(t, "digits"), 64)
			if math.IsInf(f, 0) || math.IsNaN(f) {
				return
			}
		}
		checkParse(t, text)
	})
}

func checkParse(t fataler, text string) {
	want, err := strconv.ParseFloat(text, 64)
	for _, comma := range []bool{false, true} {
		cell := text
		if comma {
			cell = strings.Replace(text, ".", ",", 1)
		}
		got, fault := ParseFloat([]byte(" "+cell+"\t"), comma)
		if short, f := ParseFloat(append([]byte(cell), "1.,x5678"...)[:len(cell)], comma); f != fault || math.Float64bits(short) != math.Float64bits(got) {
			t.Fatalf("%q: %v, %v with blanks; %v, %v with other bytes behind it", cell, got, fault, short, f)
		}
		if math.IsInf(want, 0) {
			if fault != NumberRange {
				t.Fatalf("%q: %v, %v; want out of range", cell, got, fault)
			}
			continue
		}
		if fault != NumberOK || math.Float64bits(got) != math.Float64bits(want) {
			t.Fatalf("%q: %v, %v; want %v, %v", cell, got, fault, want, err)
		}
	}
}
