package table

import "bytes"

// blanks stands for cells that are separated by runs of blanks.
const blanks byte = ' '

// candidates are the delimiters that are recognised, the likelier first.
var candidates = [...]byte{',', ';', '\t', '|'}

// maxSampleRecords is how many records are looked at to recognise a delimiter.
const maxSampleRecords = 500

// delimiterName says what a delimiter is called in a finding.
func delimiterName(d byte) string {
	switch d {
	case ',':
		return "commas"
	case ';':
		return "semicolons"
	case '\t':
		return "tabs"
	case '|':
		return "vertical bars"
	case blanks:
		return "runs of blanks"
	default:
		return "the character " + string(rune(d))
	}
}

// recogniseDelimiter judges by the first records, the header first. A delimiter
// is better the larger the share of records with as many cells as the header,
// then the more cells there are. Quoted cells are respected. Runs of blanks are
// taken only where no other delimiter splits the header and every record agrees.
func recogniseDelimiter(head []byte, nl byte, ended bool) byte {
	best, bestShare, bestCells := byte(','), 0.0, 1
	for _, d := range candidates {
		cells := sampleCells(head, d, nl, ended)
		if len(cells) == 0 || cells[0] < 2 {
			continue
		}
		same := 0
		for _, n := range cells {
			if n == cells[0] {
				same++
			}
		}
		share := float64(same) / float64(len(cells))
		if share > bestShare || share == bestShare && cells[0] > bestCells {
			best, bestShare, bestCells = d, share, cells[0]
		}
	}
	if bestCells == 1 && blankSeparated(head, nl, ended) {
		return blanks
	}
	return best
}

// sampleCells counts the cells of each record that is whole, blank ones left out.
func sampleCells(head []byte, delim, nl byte, ended bool) []int {
	var out []int
	forRecords(head, delim, nl, ended, func(cells [][]byte) {
		out = append(out, len(cells))
	})
	return out
}

// forRecords calls f with the cells of each whole record of the head, which it
// leaves as it is.
func forRecords(head []byte, delim, nl byte, ended bool, f func(cells [][]byte)) {
	head = bytes.Clone(head)
	p := parser{delim: delim, nl: nl}
	for at, n := 0, 0; at < len(head) && n < maxSampleRecords; n++ {
		rec := p.record(head, at)
		if rec.next > len(head) || rec.unterminated && !ended {
			return
		}
		at = rec.next
		if p.blankRecord(head) {
			continue
		}
		cells := make([][]byte, len(p.cells))
		for i, s := range p.cells {
			cells[i] = head[s.Start:s.End]
		}
		f(cells)
	}
}

// blankSeparated reports whether runs of blanks split the head into a table: at
// least two columns, one of them numbers throughout, and no record that differs.
func blankSeparated(head []byte, nl byte, ended bool) bool {
	columns, records, fits := 0, 0, true
	var number []bool
	forRecords(head, blanks, nl, ended, func(cells [][]byte) {
		if records == 0 {
			columns = len(cells)
			number = make([]bool, columns)
			for i := range number {
				number[i] = true
			}
		}
		if len(cells) != columns {
			fits = false
		}
		for i := 0; records > 0 && i < len(cells) && i < columns; i++ {
			_, point := ParseFloat(cells[i], false)
			_, comma := ParseFloat(cells[i], true)
			number[i] = number[i] && (point == NumberOK || comma == NumberOK)
		}
		records++
	})
	if !fits || columns < 2 || records < 2 {
		return false
	}
	for _, n := range number {
		if n {
			return true
		}
	}
	return false
}

// marksSeen counts the cells of the head that are numbers with a decimal comma
// or with a decimal point. Of those with a comma, grouped ones such as 1,234 may
// as well be thousands.
type marksSeen struct{ commas, grouped, points int }

// decimalMarks looks at all cells below the header.
func decimalMarks(head []byte, delim, nl byte, ended bool) marksSeen {
	var seen marksSeen
	first := true
	forRecords(head, delim, nl, ended, func(cells [][]byte) {
		for _, c := range cells {
			if first {
				break
			}
			c = bytes.TrimSpace(c)
			switch {
			case bytes.IndexByte(c, ',') >= 0:
				if _, fault := ParseFloat(c, true); fault == NumberOK {
					seen.commas++
					if isGrouped(c) {
						seen.grouped++
					}
				}
			case bytes.IndexByte(c, '.') >= 0:
				if _, fault := ParseFloat(c, false); fault == NumberOK {
					seen.points++
				}
			}
		}
		first = false
	})
	return seen
}

// isGrouped reports whether a number with one comma has one to three digits
// before it, not beginning with 0, and exactly three behind it.
func isGrouped(c []byte) bool {
	c = bytes.TrimLeft(c, "+-")
	at := bytes.IndexByte(c, ',')
	return at >= 1 && at <= 3 && c[0] != '0' && len(c) == at+4
}
