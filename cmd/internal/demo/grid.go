package demo

import (
	"math"
	"strconv"

	"sheetwash/analysis/quantity"
)

// Exact factors of the units that the slate crew writes.
const (
	mmPerInch       = 25.4
	mlPerFluidOunce = 29.5735295625
	m2PerSquareFoot = 0.09290304
)

// grid is one table as text, before it takes the form of a file.
type grid struct {
	name    string
	columns []gridColumn
	rows    [][]string
}

// gridColumn is a column of a grid. A column with a unit holds numbers, or times
// written as h:mm:ss where the unit is clock.
type gridColumn struct{ name, unit string }

// clock is the unit of a column of times that are written h:mm:ss.
const clock = "h:mm:ss"

func (c gridColumn) numeric() bool { return c.unit != "" && c.unit != clock }

// add appends a row with a cell per column.
func (g *grid) add(cells ...string) { g.rows = append(g.rows, cells) }

// prune drops the columns in which every cell is empty: a crew does not rule
// columns that it never fills.
func (g grid) prune() grid {
	out := grid{name: g.name, rows: make([][]string, len(g.rows))}
	for c := range g.columns {
		filled := false
		for _, r := range g.rows {
			filled = filled || r[c] != ""
		}
		if !filled {
			continue
		}
		out.columns = append(out.columns, g.columns[c])
		for i, r := range g.rows {
			out.rows[i] = append(out.rows[i], r[c])
		}
	}
	return out
}

// decimals writes a number with at most n decimals and no trailing zeros.
func decimals(v float64, n int) string {
	scale := math.Pow(10, float64(n))
	return strconv.FormatFloat(math.Round(v*scale)/scale, 'f', -1, 64)
}

// optional writes a number that may be missing.
func optional(v quantity.Optional, n int) string {
	if !v.OK {
		return ""
	}
	return decimals(v.V, n)
}
