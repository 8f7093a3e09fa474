package inference_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"sheetwash/analysis/inference"
	"sheetwash/analysis/quantity"
)

// groups returns the groups of the input with their labels.
func (c refCase) groups() (labels []string, y [][]float64) {
	l, _ := c.Input["groups"].([]any)
	for _, g := range l {
		m := g.(map[string]any)
		labels = append(labels, fmt.Sprint(m["label"]))
		var values []float64
		for _, v := range m["y"].([]any) {
			values = append(values, v.(float64))
		}
		y = append(y, values)
	}
	return labels, y
}

func oneWay(c refCase) (answers, error) {
	_, y := c.groups()
	a, err := inference.OneWay(y)
	return answers{
		"df_between": a.DFBetween, "df_within": a.DFWithin, "ss_between": a.SSBetween, "ss_within": a.SSWithin,
		"ms_between": a.MSBetween, "ms_within": a.MSWithin, "f": number2(a.F, c.Expected["f"]), "p": a.P, "eta_squared": a.RSquared,
		"omega_squared": a.Omega, "residual_sd": a.ResidualSD, "r_squared": a.RSquared,
	}, err
}

// number2 writes a number as the case does: some certified values are text.
func number2(v quantity.Optional, as any) any {
	if text, ok := as.(string); ok && v.OK {
		var want float64
		if _, err := fmt.Sscan(text, &want); err == nil && abs(v.V-want) <= 1e-9*abs(want) {
			return text
		}
	}
	return v
}

func abs(v float64) float64 { return max(v, -v) }

func welchAnova(c refCase) (answers, error) {
	_, y := c.groups()
	w, err := inference.WelchAnova(y)
	return answers{"f": w.F, "df1": w.DF1, "df2": w.DF2, "p": w.P}, err
}

func meansOfGroups(c refCase) (answers, error) {
	_, y := c.groups()
	m, err := inference.MeansOfGroups(y, c.level())
	if err != nil {
		return nil, err
	}
	columns := map[string][]quantity.Optional{}
	add := func(name string, v quantity.Optional) { columns[name] = append(columns[name], v) }
	for i, o := range m.Own {
		p := m.Pooled[i]
		add("means", o.Value)
		add("own_se", o.SE)
		add("own_ci_low", o.Low)
		add("own_ci_high", o.High)
		add("pooled_se", p.SE)
		add("pooled_ci_low", p.Low)
		add("pooled_ci_high", p.High)
	}
	a := answers{"pooled_df": m.Pooled[0].DF, "lsd_5pct_equal_n": m.LSD}
	for k, v := range columns {
		a[k] = v
	}
	return a, nil
}

func homogeneity(c refCase) (answers, error) {
	_, y := c.groups()
	h, err := inference.EqualVariances(y)
	return answers{
		"levene_f": h.Levene.F, "levene_p": h.Levene.P, "brown_forsythe_f": h.BrownForsythe.F, "brown_forsythe_p": h.BrownForsythe.P,
		"df1": h.BrownForsythe.DF1, "df2": h.BrownForsythe.DF2, "bartlett_k2": h.Bartlett.ChiSquared, "bartlett_p": h.Bartlett.P,
		"fligner_chisq": h.Fligner.ChiSquared, "fligner_p": h.Fligner.P,
	}, err
}

// pairsOf lists pairs by column.
func pairsOf(labels []string, pairs []inference.Pair, separator string) answers {
	var names []string
	columns := map[string][]quantity.Optional{}
	add := func(name string, v quantity.Optional) { columns[name] = append(columns[name], v) }
	for _, p := range pairs {
		names = append(names, labels[p.First]+separator+labels[p.Second])
		add("diff", p.Difference)
		add("se", p.SE)
		add("df", p.DF)
		add("t", p.T)
		add("ci_low", p.Low)
		add("ci_high", p.High)
		add("p_adj", p.P)
	}
	a := answers{"pairs": names}
	for k, v := range columns {
		a[k] = v
	}
	return a
}

func tukeyKramer(c refCase) (answers, error) {
	labels, y := c.groups()
	p, err := inference.TukeyKramer(y, c.level())
	a := pairsOf(labels, p.Pairs, "-")
	a["q_crit"] = p.Critical
	return a, err
}

func gamesHowell(c refCase) (answers, error) {
	labels, y := c.groups()
	p, err := inference.GamesHowell(y, c.level())
	return pairsOf(labels, p.Pairs, "-"), err
}

func dunnett(c refCase) (answers, error) {
	labels, y := c.groups()
	p, err := inference.Dunnett(y, 0, c.level())
	a := pairsOf(labels, p.Pairs, "-")
	var contrasts []string
	for _, q := range p.Pairs {
		contrasts = append(contrasts, labels[q.First])
	}
	a["control"], a["contrasts"], a["critical"], a["df"] = labels[0], contrasts, p.Critical, p.DF
	return a, err
}

func halfCorrelated(m float64) []float64 {
	l := make([]float64, int(m))
	for i := range l {
		l[i] = 0.7071067811865476
	}
	return l
}

func kruskalDunn(c refCase) (answers, error) {
	labels, y := c.groups()
	k, err := inference.KruskalWallis(y)
	if err != nil {
		return nil, err
	}
	a := pairsOf(labels, k.Pairs, "-")
	var p []float64
	for _, q := range k.Pairs {
		p = append(p, q.P.V)
	}
	holm, err := inference.Adjust(p, inference.Holm)
	if err != nil {
		return nil, err
	}
	bh, err := inference.Adjust(p, inference.BenjaminiHochberg)
	a["h"], a["df"], a["p"], a["mean_ranks"], a["z"], a["p_raw"], a["p_holm"], a["p_bh"] = k.H, k.DF, k.P, k.MeanRanks, a["t"], p, holm, bh
	return a, err
}

func shapiroWilk(c refCase) (answers, error) {
	s, err := inference.ShapiroWilk(c.floats("y"))
	return answers{"w": s.W, "p": s.P}, err
}

func shapiroWilkResiduals(c refCase) (answers, error) {
	_, y := c.groups()
	var residuals []float64
	for _, g := range y {
		m, err := inference.Mean(g)
		if err != nil {
			return nil, err
		}
		for _, v := range g {
			residuals = append(residuals, v-m.V)
		}
	}
	s, err := inference.ShapiroWilk(residuals)
	return answers{"residuals_w": s.W, "p": s.P, "n": s.N}, err
}

func blockedAnova(c refCase) (answers, error) {
	b, err := inference.BlockedAnova(c.floats("y"), c.words("treatment"), c.words("block"), c.level())
	if err != nil {
		return nil, err
	}
	a := answers{
		"df": []int{b.DFBlock, b.DFTreatment, b.DFError}, "ss": []float64{b.SSBlock, b.SSTreatment, b.SSError},
		"f_block": b.FBlock, "p_block": b.PBlock, "f_treatment": b.FTreatment, "p_treatment": b.PTreatment,
		"treatments": b.Treatments, "relative_efficiency": b.Efficiency,
	}
	var mean, se, low, high []quantity.Optional
	for _, m := range b.Adjusted {
		mean, se, low, high = append(mean, m.Value), append(se, m.SE), append(low, m.Low), append(high, m.High)
	}
	a["emmeans"], a["emmean_se"], a["emmean_ci_low"], a["emmean_ci_high"] = mean, se, low, high
	labels := slices.Clone(b.Treatments)
	if pairs, _ := c.Expected["tukey_pairs"].([]any); len(pairs) > 0 && !strings.HasPrefix(fmt.Sprint(pairs[0]), labels[0]) {
		for i := range labels { // the source writes t before levels that are numbers
			labels[i] = "t" + labels[i]
		}
	}
	p := pairsOf(labels, b.Pairs.Pairs, " - ")
	a["tukey_pairs"], a["tukey_diff"], a["tukey_p"], a["tukey_ci_low"], a["tukey_ci_high"] = p["pairs"], p["diff"], p["p_adj"], p["ci_low"], p["ci_high"]
	return a, nil
}

func blockedAnovaMissing(c refCase) (answers, error) {
	b, err := inference.BlockedAnova(c.floats("y"), c.words("treatment"), c.words("block"), c.level())
	if err != nil {
		return nil, err
	}
	var mean, se, raw []quantity.Optional
	var names []string
	wanted, _ := c.Expected["treatments"].([]any)
	for _, w := range wanted { // ours go by first appearance
		i := slices.Index(b.Treatments, fmt.Sprint(w))
		mean, se, raw = append(mean, b.Adjusted[i].Value), append(se, b.Adjusted[i].SE), append(raw, b.Raw[i])
		names = append(names, b.Treatments[i])
	}
	return answers{
		"treatments": names, "emmeans": mean, "emmean_se": se, "f_treatment_type2": b.FTreatment,
		"p_treatment_type2": b.PTreatment, "df_residual": b.DFError, "raw_means": raw,
	}, nil
}

func friedman(c refCase) (answers, error) {
	var blocks [][]float64
	treatment, block := c.words("treatment"), c.words("block")
	var names, levels []string
	for i := range block {
		if !slices.Contains(names, block[i]) {
			names = append(names, block[i])
			blocks = append(blocks, nil)
		}
		if !slices.Contains(levels, treatment[i]) {
			levels = append(levels, treatment[i])
		}
	}
	for k := range blocks {
		blocks[k] = make([]float64, len(levels))
	}
	for i, y := range c.floats("y") {
		blocks[slices.Index(names, block[i])][slices.Index(levels, treatment[i])] = y
	}
	f, err := inference.Friedman(blocks)
	return answers{"chisq": f.ChiSquared, "df": f.DF, "p": f.P}, err
}

func adjust(c refCase) (answers, error) {
	a := answers{}
	for key, by := range map[string]inference.Adjustment{
		"bonferroni": inference.Bonferroni, "holm": inference.Holm, "hochberg": inference.Hochberg,
		"bh": inference.BenjaminiHochberg, "by": inference.BenjaminiYekutieli,
	} {
		p, err := inference.Adjust(c.floats("p"), by)
		if err != nil {
			return nil, err
		}
		a[key] = p
	}
	return a, nil
}

// lettersShown are letters with the pairs that they must show.
type lettersShown struct {
	letters []string
	differ  [][2]int
}

func letters(c refCase) (answers, error) {
	names := c.words("groups")
	var differ [][2]int
	for _, pair := range c.words("significant_pairs") {
		i := slices.IndexFunc(names, func(n string) bool { return strings.HasPrefix(pair, n) })
		j := slices.IndexFunc(names, func(n string) bool { return strings.HasSuffix(pair, n) })
		differ = append(differ, [2]int{i, j})
	}
	l, err := inference.Letters(len(names), differ)
	return answers{"letters": lettersShown{l, differ}}, err
}

// compare checks the property of the letters and their number: any relabelling is right.
func (l lettersShown) compare(t *testing.T, want []any) {
	t.Helper()
	used := map[rune]bool{}
	wanted := map[rune]bool{}
	for i, a := range l.letters {
		for _, r := range a {
			used[r] = true
		}
		for _, r := range fmt.Sprint(want[i]) {
			wanted[r] = true
		}
		for j := range i {
			share := strings.ContainsAny(a, l.letters[j])
			apart := slices.Contains(l.differ, [2]int{i, j}) || slices.Contains(l.differ, [2]int{j, i})
			if share == apart {
				t.Errorf("groups %d and %d have %q and %q, significant: %v", j, i, l.letters[j], a, apart)
			}
		}
	}
	if len(used) != len(wanted) {
		t.Errorf("letters %v, want %v", l.letters, want)
	}
}
