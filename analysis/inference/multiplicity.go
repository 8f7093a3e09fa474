package inference

import (
	"fmt"
	"math"
	"slices"
)

// Adjustment names an adjustment of p values for their number.
type Adjustment string

// The adjustments on offer. Holm controls the chance of any false rejection
// whatever the dependence, Benjamini-Hochberg the share of false ones.
const (
	NoAdjustment       Adjustment = "none"
	Bonferroni         Adjustment = "bonferroni"
	Holm               Adjustment = "holm"
	Hochberg           Adjustment = "hochberg"
	BenjaminiHochberg  Adjustment = "bh"
	BenjaminiYekutieli Adjustment = "by"
)

// Adjust returns p values adjusted for their number, in their order.
//
//	holm: running maximum of (m-i+1) p_(i);  hochberg: running minimum of the same from the top
//	bh: running minimum of m/i p_(i) from the top;  by: times sum 1/i
//
// Source: Holm (1979), Scandinavian Journal of Statistics 6:65-70; Hochberg (1988),
// Biometrika 75:800-802; Benjamini & Hochberg (1995), JRSS B 57:289-300; Benjamini & Yekutieli (2001), Annals of Statistics 29:1165-1188.
// Errors: ErrInput for p outside [0, 1] or an unknown adjustment.
func Adjust(p []float64, by Adjustment) ([]float64, error) {
	for i, v := range p {
		if !(v >= 0 && v <= 1) {
			return nil, fmt.Errorf("%w: p[%d] is %v", ErrInput, i, v)
		}
	}
	m := len(p)
	order := byTime(p)
	out := make([]float64, m)
	harmonic := 1.0
	switch by {
	case NoAdjustment:
		copy(out, p)
	case Bonferroni:
		for i, v := range p {
			out[i] = math.Min(1, float64(m)*v)
		}
	case Holm:
		top := 0.0
		for i, k := range order {
			top = math.Max(top, math.Min(1, float64(m-i)*p[k]))
			out[k] = top
		}
	case BenjaminiYekutieli, BenjaminiHochberg, Hochberg:
		if by == BenjaminiYekutieli {
			harmonic = 0
			for i := 1; i <= m; i++ {
				harmonic += 1 / float64(i)
			}
		}
		least := 1.0
		for i := m - 1; i >= 0; i-- {
			k := order[i]
			factor := harmonic * float64(m) / float64(i+1)
			if by == Hochberg {
				factor = float64(m - i)
			}
			least = math.Min(least, factor*p[k])
			out[k] = math.Min(1, least)
		}
	default:
		return nil, fmt.Errorf("%w: adjustment %q", ErrInput, by)
	}
	return out, nil
}

// Letters returns a compact display of the pairs that differ: two groups share a
// letter exactly if they are not said to differ.
//
// Columns of letters are split at every pair that differs and those that another
// one contains are dropped (insert and absorb); columns that are not needed are then removed and letters go by first appearance. Source: Piepho
// (2004), Journal of Computational and Graphical Statistics 13:456-466; Gramm et al. (2007). Errors: ErrInput for numbers out of range.
func Letters(groups int, differ [][2]int) ([]string, error) {
	for _, d := range differ {
		if d[0] < 0 || d[1] < 0 || d[0] >= groups || d[1] >= groups || d[0] == d[1] {
			return nil, fmt.Errorf("%w: pair %v of %d groups", ErrInput, d, groups)
		}
	}
	if groups <= 0 {
		return nil, nil
	}
	whole := make([]bool, groups)
	for i := range whole {
		whole[i] = true
	}
	columns := [][]bool{whole}
	for _, d := range differ {
		var next [][]bool
		for _, c := range columns {
			if !c[d[0]] || !c[d[1]] {
				next = append(next, c)
				continue
			}
			a, b := slices.Clone(c), slices.Clone(c)
			a[d[1]], b[d[0]] = false, false
			next = append(next, a, b)
		}
		columns = absorb(next)
	}
	columns = sweep(columns, groups, differ)
	slices.SortStableFunc(columns, func(a, b []bool) int {
		for i := range a {
			if a[i] != b[i] {
				if a[i] {
					return -1
				}
				return 1
			}
		}
		return 0
	})
	out := make([]string, groups)
	for k, c := range columns {
		for g, in := range c {
			if in {
				out[g] += letter(k)
			}
		}
	}
	return out, nil
}

// letter names the k-th column: a to z, then A to Z, then (52), (53)...
func letter(k int) string {
	switch {
	case k < 26:
		return string(rune('a' + k))
	case k < 52:
		return string(rune('A' + k - 26))
	}
	return fmt.Sprintf("(%d)", k)
}

// absorb drops columns that another one contains.
func absorb(columns [][]bool) [][]bool {
	var out [][]bool
	for i, c := range columns {
		contained := false
		for j, d := range columns {
			if i != j && within(c, d) && (!within(d, c) || j < i) {
				contained = true
				break
			}
		}
		if !contained {
			out = append(out, c)
		}
	}
	return out
}

func within(a, b []bool) bool {
	for i := range a {
		if a[i] && !b[i] {
			return false
		}
	}
	return true
}

// sweep removes columns, from the smallest, whose pairs and groups others show as well.
func sweep(columns [][]bool, groups int, differ [][2]int) [][]bool {
	shown := func(skip int, i, j int) bool {
		for k, c := range columns {
			if k != skip && c[i] && c[j] {
				return true
			}
		}
		return false
	}
	apart := map[[2]int]bool{}
	for _, d := range differ {
		apart[[2]int{min(d[0], d[1]), max(d[0], d[1])}] = true
	}
	for k := len(columns) - 1; k >= 0; k-- {
		needed := false
		for i := 0; i < groups && !needed; i++ {
			for j := i; j < groups && !needed; j++ {
				needed = columns[k][i] && columns[k][j] && !apart[[2]int{i, j}] && !shown(k, i, j)
			}
		}
		if !needed {
			columns = slices.Delete(columns, k, k+1)
		}
	}
	return columns
}
