package report

import (
	"slices"
	"sort"

	"sheetwash/analysis/result"
)

// records gives the rows of a table in blocks, so that a table whose rows are
// derived never stands whole in memory.
type records[R any] struct {
	n     int
	block func(from, to int, scratch []R) []R // the rows from..to-1; they may stand in scratch
}

// whole gives the rows of a table that does stand in memory.
func whole[R any](rows []R) records[R] {
	return records[R]{n: len(rows), block: func(from, to int, _ []R) []R { return rows[from:to] }}
}

// step is a row of the hydrograph table.
type step struct {
	*result.Course
	*result.Step
}

// steps gives the intervals of all courses, one behind the other.
func steps(courses []result.Course) records[step] {
	ends := make([]int, len(courses)) // of each course, in rows
	n := 0
	for i := range courses {
		n += len(courses[i].Steps)
		ends[i] = n
	}
	return records[step]{n: n, block: func(from, to int, scratch []step) []step {
		scratch = slices.Grow(scratch[:0], to-from)
		c := sort.SearchInts(ends, from+1)
		for from < to {
			course := &courses[c]
			for i := from - (ends[c] - len(course.Steps)); i < len(course.Steps) && from < to; i++ {
				scratch = append(scratch, step{course, &course.Steps[i]})
				from++
			}
			c++
		}
		return scratch
	}}
}
