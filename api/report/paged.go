package report

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"

	"sheetwash/analysis/result"
)

// WriteIndexed writes a table as JSON, the same bytes as Write, and beside it an
// index: for each row, and for the end of the last, the offset of its first byte
// as a big-endian 64-bit number. So a page of rows is a piece of the file.
func WriteIndexed(w, index io.Writer, a *result.Analysis, table string, opt Options) (rows int64, err error) {
	opt.Format = JSON
	c := &rowCounter{w: w, index: index}
	if err := Write(c, a, table, opt); err != nil {
		return 0, err
	}
	return c.rows - 1, nil
}

// rowCounter passes a JSON table on and notes where each line after the first
// starts. A text of JSON holds no line break, so these are the rows and the closing
// bracket.
type rowCounter struct {
	w, index io.Writer
	at, rows int64
	broken   bool // the last byte was a line break
	offsets  []byte
}

func (c *rowCounter) Write(p []byte) (int, error) {
	c.offsets = c.offsets[:0]
	for i := 0; i < len(p); {
		if c.broken {
			c.offsets = binary.BigEndian.AppendUint64(c.offsets, uint64(c.at)+uint64(i))
			c.rows++
		}
		k := bytes.IndexByte(p[i:], '\n')
		if c.broken = k >= 0; !c.broken {
			break
		}
		i += k + 1
	}
	c.at += int64(len(p))
	if _, err := c.index.Write(c.offsets); err != nil {
		return 0, err
	}
	return c.w.Write(p)
}

// ErrIndex says that an index does not belong to its table.
var ErrIndex = errors.New("the index is damaged")

// PageOf returns which bytes of a JSON table of WriteIndexed hold its rows from
// first up to end, each but the last followed by a comma and a line break.
func PageOf(index []byte, first, end int64) (offset, length int64, err error) {
	rows := int64(len(index))/8 - 1
	if len(index)%8 != 0 || first < 0 || end < first || end > rows {
		return 0, 0, ErrIndex
	}
	if first == end {
		return 0, 0, nil
	}
	start, stop := int64(binary.BigEndian.Uint64(index[8*first:])), int64(binary.BigEndian.Uint64(index[8*end:]))
	const between, last = 2, 1 // ",\n" after a row, "\n" after the last
	if end == rows {
		stop -= last
	} else {
		stop -= between
	}
	if stop <= start {
		return 0, 0, ErrIndex
	}
	return start, stop - start, nil
}
