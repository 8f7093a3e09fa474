package rows

import (
	"bufio"
	"io"
	"iter"
)

// WriteJSON writes rows as one array, untouched, one a line. It returns how many
// rows it wrote.
func WriteJSON(w io.Writer, rows iter.Seq2[[]byte, error]) (int64, error) {
	out := bufio.NewWriterSize(w, 64<<10)
	var n int64
	before := "[\n"
	for row, err := range rows {
		if err == nil {
			_, err = out.WriteString(before)
		}
		if err == nil {
			_, err = out.Write(row)
		}
		if err != nil {
			return n, err
		}
		before = ",\n"
		n++
	}
	if n == 0 {
		_, _ = out.WriteString("[") // a buffer keeps its error for Flush
	}
	_, _ = out.WriteString("\n]\n")
	return n, out.Flush()
}
