package season

import (
	"cmp"
	"slices"

	"sheetwash/analysis/inference"
	"sheetwash/analysis/quantity"
)

// letter gives letters to the treatments all of whose pairs were tested: two
// share one exactly if their adjusted p is not below alpha. Treatments with a pair
// that could not be tested get none, the one with most such pairs first, since a shared
// letter would say that they were found alike. Letters go by the size of the treatments, a the largest.
func (m *family) letter(alpha float64) {
	type key struct{ x, y string }
	tested := map[key]float64{}
	for _, r := range m.rows {
		if r.PAdjusted.OK {
			tested[key{r.Treatment, r.Reference}] = r.PAdjusted.V
			tested[key{r.Reference, r.Treatment}] = r.PAdjusted.V
		}
	}
	var in []int
	for i := range m.sides {
		in = append(in, i)
	}
	untested := func(i int) int {
		n := 0
		for _, j := range in {
			if _, ok := tested[key{m.sides[i].label, m.sides[j].label}]; i != j && !ok {
				n++
			}
		}
		return n
	}
	for len(in) > 1 {
		worst := slices.MaxFunc(in, func(a, b int) int { return cmp.Compare(untested(a), untested(b)) })
		if untested(worst) == 0 {
			break
		}
		in = slices.DeleteFunc(in, func(i int) bool { return i == worst })
	}
	if len(in) < 2 {
		return
	}
	slices.SortStableFunc(in, func(a, b int) int { return cmp.Compare(m.sides[b].size(), m.sides[a].size()) })
	var differ [][2]int
	for i := range in {
		for j := i + 1; j < len(in); j++ {
			if tested[key{m.sides[in[i]].label, m.sides[in[j]].label}] < alpha {
				differ = append(differ, [2]int{i, j})
			}
		}
	}
	letters, err := inference.Letters(len(in), differ)
	if err != nil {
		return
	}
	m.letters = map[string]string{}
	for k, i := range in {
		m.letters[m.sides[i].label] = letters[k]
	}
}

// size is the mean of the values of a side, for the order of letters only.
func (d side) size() float64 {
	sum, n := 0.0, 0
	for _, c := range d.cells {
		if c == nil {
			continue
		}
		for _, u := range c.units {
			sum += u.value
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return sum / float64(n)
}

// assumptions checks what the tests of the family suppose and returns notices.
// They never change the method.
//
//	residuals (of logarithms, where ratios are compared) from the means of treatment and event: Shapiro-Wilk
//	Brown-Forsythe over the treatments
//
// Both at 0.01, from eight residuals on.
func (m *family) assumptions() []string {
	groups := make([][]float64, 0, len(m.sides))
	for _, d := range m.sides {
		var group []float64
		for _, c := range d.cells {
			if c == nil || c.censored() > 0 || len(c.units) < 2 {
				continue
			}
			y, ok := scaled(c.values(), m.info)
			if !ok {
				continue
			}
			mean, err := inference.Mean(y)
			if err != nil {
				continue
			}
			for _, v := range y {
				group = append(group, v-mean.V)
			}
		}
		if len(group) > 1 {
			groups = append(groups, group)
		}
	}
	all := slices.Concat(groups...)
	const least, doubt = 8, 0.01
	if len(all) < least {
		return nil
	}
	var notices []string
	if s, err := inference.ShapiroWilk(all); err == nil && s.P.OK && s.P.V < doubt {
		notices = append(notices, FlagNotNormal)
	}
	if h, err := inference.BrownForsythe(groups); err == nil && below(h.P, doubt) {
		notices = append(notices, FlagUnequalSpread)
	}
	return notices
}

func below(p quantity.Optional, limit float64) bool { return p.OK && p.V < limit }
