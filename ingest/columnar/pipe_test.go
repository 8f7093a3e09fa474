package columnar

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/ingest/table"
)

// scanPipe reads what a child said.
func scanPipe(said []byte, want []bool) (rows int, faults []*fault, err error) {
	s := &pipeScan{want: want, words: make([][]string, len(want)), next: 1}
	s.work = func(b *table.Batch) any {
		for k := range b.Cols {
			for i := range b.N {
				touch(&b.Cols[k], i)
			}
		}
		return b.N
	}
	s.fail = func(_ int64, f *fault) any { return f }
	err = s.run(context.Background(), 2, func(r any) {
		if f, ok := r.(*fault); ok {
			faults = append(faults, f)
			return
		}
		rows += r.(int)
	}, func(take func(byte, []byte) error) error {
		return frames(bytes.NewReader(said), true, &s.room, take)
	})
	return rows, faults, err
}

// touch uses a cell as a consumer would.
func touch(c *table.Column, i int) (float64, int) {
	if c.IsNull(i) {
		return 0, 0
	}
	switch c.Kind {
	case table.Float:
		return c.Float[i], 0
	case table.Int:
		return float64(c.Int[i]), 0
	case table.Bool:
		return 0, len(c.Bool[i:])
	case table.Dict:
		return 0, len(c.Words[c.Codes[i]])
	case table.Text:
		return 0, len(c.Bytes(i))
	}
	return math.NaN(), 0
}

func spoken(t testing.TB) []byte {
	t.Helper()
	cols := []table.Column{
		{Kind: table.Float, Float: []float64{1, 2, 3}, Null: []bool{false, true, false}},
		{Kind: table.Int, Int: []int64{1, 2, 3}},
		{Kind: table.Bool, Bool: []bool{true, false, true}},
		{Kind: table.Dict, Codes: []int32{0, 1, 0}, Words: []string{"a", "b"}},
		{Kind: table.Text, Buf: []byte("onetwo"), Spans: []table.Span{{Start: 0, End: 3}, {Start: 3, End: 6}, {Start: 6, End: 6}}, Stride: 1},
	}
	var b bytes.Buffer
	parts := [][]byte{binary.NativeEndian.AppendUint64(binary.NativeEndian.AppendUint64(nil, 3), 1)}
	for i := range cols {
		parts = append(parts, appendColumn(nil, 3, &cols[i]))
	}
	words := appendWords(binary.NativeEndian.AppendUint32(nil, 3), cols[3].Words)
	if err := errors.Join(writeFrame(&b, frameWords, words), writeFrame(&b, frameBatch, parts...), writeFrame(&b, frameEnd)); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

var all = []bool{true, true, true, true, true}

func TestPipe(t *testing.T) {
	said := spoken(t)
	rows, faults, err := scanPipe(said, all)
	if rows != 3 || faults != nil || err != nil {
		t.Fatal(rows, faults, err)
	}
	// A pipe that breaks off anywhere is an error, never fewer rows in silence.
	for n := range said {
		if _, faults, err := scanPipe(said[:n], all); err == nil && len(faults) == 0 {
			t.Errorf("cut off after %d of %d bytes: no error", n, len(said))
		}
	}
}

// Codes of any width, and any number of words, come through.
func TestPipeWords(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		words := make([]string, rapid.SampledFrom([]int{1, 2, 255, 256, 257, 65536, 65537}).Draw(rt, "words"))
		codes := rapid.SliceOfN(rapid.Int32Range(0, int32(len(words)-1)), 1, 50).Draw(rt, "codes")
		words[codes[0]] = "é"
		c := table.Column{Kind: table.Dict, Codes: codes, Words: words}
		again, err := readWords(appendWords(nil, words))
		if err != nil || !slices.Equal(again, words) {
			rt.Fatal(err)
		}
		var out cells
		cur := &cursor{b: appendColumn(nil, len(codes), &c)}
		out.readColumn(cur, len(codes), again)
		if cur.bad || !slices.Equal(out.Codes, codes) {
			rt.Fatalf("%v, %v", cur.bad, out.Codes)
		}
	})
}

func FuzzPipe(f *testing.F) {
	f.Add(spoken(f))
	f.Add([]byte{frameBatch, 0, 0, 0, 255, 255, 255, 63})
	f.Fuzz(func(t *testing.T, said []byte) {
		_, _, _ = scanPipe(said, all)
	})
}

// A length alone takes no memory.
func TestFrameLengthIsNotBelieved(t *testing.T) {
	head := []byte{frameBatch, 0, 0, 0, 0, 0, 0, 0}
	binary.NativeEndian.PutUint32(head[4:], maxFrame)
	n := testing.AllocsPerRun(3, func() {
		if _, _, err := readFrame(io.MultiReader(bytes.NewReader(head), bytes.NewReader(make([]byte, 10))), nil); err == nil {
			t.Error("no error")
		}
	})
	if n > 20 {
		t.Errorf("%v allocations", n)
	}
}
