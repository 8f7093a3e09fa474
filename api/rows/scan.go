package rows

import (
	"encoding/json"
	"errors"
	"fmt"
)

// ErrRow says that a stored row is not what was written.
var ErrRow = errors.New("stored row is damaged")

// Cells returns the cells of a row in the order of its columns, as JSON text. The
// cells are parts of row; dst is reused.
func Cells(dst [][]byte, row []byte) ([][]byte, error) {
	dst = dst[:0]
	if len(row) < 2 || row[0] != '{' || row[len(row)-1] != '}' {
		return nil, fmt.Errorf("%w: no object", ErrRow)
	}
	for i := 1; ; {
		end := text(row, i)
		if end < 0 || end >= len(row) || row[end] != ':' {
			return nil, fmt.Errorf("%w: no name at byte %d", ErrRow, i)
		}
		i = end + 1
		switch row[i] {
		case '"':
			end = text(row, i)
		case '{', '[':
			return nil, fmt.Errorf("%w: not flat at byte %d", ErrRow, i)
		default:
			for end = i; plain(row[end]); end++ {
			}
		}
		if end <= i {
			return nil, fmt.Errorf("%w: no cell at byte %d", ErrRow, i)
		}
		dst = append(dst, row[i:end])
		switch {
		case end == len(row)-1:
			return dst, nil
		case row[end] != ',':
			return nil, fmt.Errorf("%w: no comma at byte %d", ErrRow, end)
		}
		i = end + 1
	}
}

// plain reports whether a byte is of a number, true, false or null.
func plain(c byte) bool {
	return c >= '0' && c <= '9' || c >= 'a' && c <= 'z' || c == '-' || c == '+' || c == '.' || c == 'E'
}

// text returns the end of the string that begins at i, or -1.
func text(row []byte, i int) int {
	if i >= len(row) || row[i] != '"' {
		return -1
	}
	for i++; i < len(row)-1; i++ {
		switch row[i] {
		case '\\':
			i++
		case '"':
			return i + 1
		}
	}
	return -1
}

// null reports whether a cell is missing.
func null(cell []byte) bool { return len(cell) > 0 && cell[0] == 'n' }

// word returns the text of a string cell. Where nothing is escaped it is a part of
// the cell.
func word(cell []byte) (string, error) {
	if len(cell) < 2 || cell[0] != '"' {
		return "", fmt.Errorf("%w: no text", ErrRow)
	}
	for _, c := range cell {
		if c == '\\' {
			var s string
			if err := json.Unmarshal(cell, &s); err != nil {
				return "", fmt.Errorf("%w: %w", ErrRow, err)
			}
			return s, nil
		}
	}
	return string(cell[1 : len(cell)-1]), nil
}
