package columnar

import "sheetwash/ingest/table"

// look turns a column of indices into one of codes and words, or, where the
// words are not text, into one of their values.
func (d *dictionary) look(c *cells) error {
	n := len(c.Int)
	codes := sized(&c.codes, n)
	words := len(d.words)
	if !d.isText {
		words = d.values.len()
	}
	for i, v := range c.Int {
		if uint64(v) < uint64(words) {
			codes[i] = int32(v)
			continue
		}
		codes[i] = 0
		if !c.IsNull(i) {
			return &fault{Code: CodeCorrupt, Row: int64(i), Message: "the cell points outside the column's dictionary; the file is damaged: write it again"}
		}
	}
	if d.null != nil {
		null := orFalse(c.Null, n)
		for i, code := range codes {
			null[i] = null[i] || int(code) < len(d.null) && d.null[code]
		}
		c.Null = null
	}
	c.Int = nil
	if words == 0 { // every cell is null
		c.format(n, func(b []byte, _ int) []byte { return b })
		return nil
	}
	if d.isText {
		c.Kind, c.Codes, c.Words = table.Dict, codes, d.words
		return nil
	}
	d.gather(c, codes)
	return nil
}

// len returns the number of cells.
func (c *cells) len() int {
	switch c.Kind {
	case table.Float:
		return len(c.Float)
	case table.Int:
		return len(c.Int)
	case table.Bool:
		return len(c.Bool)
	case table.Dict:
		return len(c.Codes)
	default:
		return len(c.Spans)
	}
}

// gather puts the value that each code stands for into c.
func (d *dictionary) gather(c *cells, codes []int32) {
	v := &d.values.Column
	n := len(codes)
	c.Kind = v.Kind
	at := func(i int) int { return int(codes[i]) }
	switch v.Kind {
	case table.Float:
		c.Float = sized(&c.float, n)
		for i := range n {
			c.Float[i] = v.Float[at(i)]
		}
	case table.Int:
		c.Int = sized(&c.int, n)
		for i := range n {
			c.Int[i] = v.Int[at(i)]
		}
	case table.Bool:
		c.Bool = sized(&c.bool, n)
		for i := range n {
			c.Bool[i] = v.Bool[at(i)]
		}
	default:
		c.format(n, func(b []byte, i int) []byte { return append(b, v.Bytes(at(i))...) })
	}
}
