package page

import (
	"slices"
	"strings"

	"sheetwash/analysis/result"
)

// source is a published work that a method rests on.
type source struct {
	words string // that occur in the identifiers of its methods
	work  string
}

// sources lists the works by the words of the methods that need them. A method
// without one is a definition that the metric's own sentence holds.
var sources = []source{
	{"horton", "Horton, R. E. (1940). An approach toward a physical interpretation of infiltration-capacity. Soil Science Society of America Proceedings 5, 399-417."},
	{"green_ampt", "Green, W. H., & Ampt, G. A. (1911). Studies on soil physics: 1. Journal of Agricultural Science 4, 1-24."},
	{"philip", "Philip, J. R. (1957). The theory of infiltration. Soil Science 83, 345-357 and 84, 257-264."},
	{"smith_parlange", "Smith, R. E., & Parlange, J.-Y. (1978). A parameter-efficient hydrologic infiltration model. Water Resources Research 14, 533-538."},
	{"final_window", "Schuirmann, D. J. (1987). A comparison of the two one-sided tests procedure and the power approach for assessing the equivalence of average bioavailability. Journal of Pharmacokinetics and Biopharmaceutics 15, 657-680."},
	{"flow_weighted", "Guy, H. P. (1969). Laboratory theory and methods for sediment analysis. USGS Techniques of Water-Resources Investigations, book 5, chapter C1."},
	{"uniformity_christiansen", "Christiansen, J. E. (1942). Irrigation by sprinkling. California Agricultural Experiment Station Bulletin 670."},
	{"uniformity_low_quarter", "Merriam, J. L., & Keller, J. (1978). Farm irrigation system evaluation: a guide for management. Utah State University, Logan."},
	{"random_effects_reml_hk", "Hartung, J., & Knapp, G. (2001). On tests of the overall treatment effect in meta-analysis with normally distributed responses. Statistics in Medicine 20, 1771-1782."},
	{"welch_t", "Welch, B. L. (1947). The generalization of Student's problem when several different population variances are involved. Biometrika 34, 28-35."},
	{"kaplan_meier", "Kaplan, E. L., & Meier, P. (1958). Nonparametric estimation from incomplete observations. Journal of the American Statistical Association 53, 457-481."},
	{"mean", "JCGM 100:2008. Evaluation of measurement data: guide to the expression of uncertainty in measurement."},
}

// methodsSection names what was computed, how, and by whose method.
func (s *Site) methodsSection(flagsOf) (section, error) {
	used := map[result.Metric]map[string]bool{}
	note := func(m result.Metric, method string) {
		if used[m] == nil {
			used[m] = map[string]bool{}
		}
		if method != "" {
			used[m][method] = true
		}
	}
	for i := range s.in.Analysis.Plots {
		if r := &s.in.Analysis.Plots[i]; r.Headline {
			note(r.Metric, r.Method)
		}
	}
	for i := range s.in.Analysis.Calibrations {
		note(s.in.Analysis.Calibrations[i].Metric, "catch_cans")
	}
	all := map[string]bool{}
	t := table{ID: "methods-table", Caption: "What was computed and how", Head: []string{"Quantity", "Definition", "Methods of the numbers used"}}
	for _, info := range result.Catalogue() {
		if used[info.ID] == nil {
			continue
		}
		all[string(info.ID)] = true
		var names []string
		for m := range used[info.ID] {
			names = append(names, methodWord(m))
			all[m] = true
		}
		slices.Sort(names)
		t.Rows = append(t.Rows, []phrase{say(info.Name), fact(info.Definition), fact(strings.Join(names, ", "))})
	}
	for i := range s.in.Analysis.Treatments {
		all[s.in.Analysis.Treatments[i].Method] = true
	}
	for i := range s.in.Analysis.Comparisons {
		all[s.in.Analysis.Comparisons[i].Method] = true
	}
	for i := range s.in.Analysis.Fits {
		all[s.in.Analysis.Fits[i].Model] = true
	}
	sec := section{ID: "methods", Heading: "Methods and sources"}
	if len(t.Rows) == 0 {
		return section{}, nil
	}
	sec.Tables = []table{t}
	sec.Intro = []phrase{
		say("The plot under one run is the experimental unit; bottles of a plot are no replicates. Intervals hold the errors of reading, tare, stopwatch, area and intensity, those of treatments the scatter between plots as well. A plot that never ran off counts as censored at the end of rain."),
		fact("A number on a page is rounded to two significant digits of its standard uncertainty (JCGM 100:2008, 7.2.6): that of a plot as its table gives it, that of a mean a quarter of its interval. The result tables hold all digits."),
	}
	for _, src := range sources {
		for m := range all {
			if strings.Contains(m, src.words) {
				sec.Items = append(sec.Items, fact(src.work))
				break
			}
		}
	}
	return sec, nil
}
