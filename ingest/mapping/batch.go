package mapping

import (
	"strconv"

	"sheetwash/ingest/table"
)

// gather returns the rows idx of a column. A column that was not read stays empty.
func gather(c *table.Column, idx []int) table.Column {
	out := table.Column{Kind: c.Kind, Words: c.Words, Buf: c.Buf}
	if c.Null != nil {
		out.Null = pick(c.Null, idx)
	}
	switch {
	case c.Kind == table.Text && c.Spans != nil:
		out.Stride = 1
		out.Spans = make([]table.Span, len(idx))
		for k, i := range idx {
			out.Spans[k] = c.Spans[i*c.Stride+c.Base]
		}
	case c.Kind == table.Dict && c.Codes != nil:
		out.Codes = pick(c.Codes, idx)
	case c.Kind == table.Float && c.Float != nil:
		out.Float = pick(c.Float, idx)
	case c.Kind == table.Int && c.Int != nil:
		out.Int = pick(c.Int, idx)
	case c.Kind == table.Bool && c.Bool != nil:
		out.Bool = pick(c.Bool, idx)
	}
	return out
}

func pick[T any](all []T, idx []int) []T {
	out := make([]T, len(idx))
	for k, i := range idx {
		out[k] = all[i]
	}
	return out
}

// appendCell appends the text of cell i; nothing for a null.
func appendCell(buf []byte, c *table.Column, i int) []byte {
	if c.IsNull(i) {
		return buf
	}
	switch c.Kind {
	case table.Text:
		return append(buf, c.Bytes(i)...)
	case table.Dict:
		return append(buf, c.Words[c.Codes[i]]...)
	case table.Float:
		return strconv.AppendFloat(buf, c.Float[i], 'f', -1, 64)
	case table.Int:
		return strconv.AppendInt(buf, c.Int[i], 10)
	default:
		return strconv.AppendBool(buf, c.Bool[i])
	}
}

// rebatch returns a batch whose rows are those of b at idx.
func rebatch(b *table.Batch, idx []int, cols []table.Column) *table.Batch {
	out := table.NewBatch(len(idx), cols,
		func(k int) int64 { return b.Row(idx[k]) },
		func(k int) int64 { return b.Line(idx[k]) })
	out.Issues = b.Issues
	return out
}

// all returns 0 to n-1.
func all(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

// wanted returns the Want of a scan with further fields in it.
func wanted(want []bool, fields int, also ...int) []bool {
	if want == nil {
		return nil
	}
	out := make([]bool, fields)
	copy(out, want)
	for _, i := range also {
		out[i] = true
	}
	return out
}
