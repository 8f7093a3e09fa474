package page

import (
	"maps"
	"slices"
	"strings"

	"sheetwash/analysis/result"
)

// source is a published work that a method rests on.
type source struct {
	words []string // any of which occurs in the identifiers of its metrics and methods
	work  string
}

// sources lists the works by the words of the metrics and methods that need them. A
// method without one is a definition that the metric's own sentence holds.
var sources = []source{
	{[]string{"horton"}, "Horton, R. E. (1940). An approach toward a physical interpretation of infiltration-capacity. Soil Science Society of America Proceedings 5, 399-417."},
	{[]string{"green_ampt"}, "Green, W. H., & Ampt, G. A. (1911). Studies on soil physics: 1. Journal of Agricultural Science 4, 1-24."},
	{[]string{"green_ampt"}, "Mein, R. G., & Larson, C. L. (1973). Modeling infiltration during a steady rain. Water Resources Research 9, 384-394."},
	{[]string{"philip", "sorptivity"}, "Philip, J. R. (1957). The theory of infiltration. Soil Science 83, 345-357 and 84, 257-264."},
	{[]string{"kostiakov"}, "Kostiakov, A. N. (1932). Transactions of the 6th Commission of the International Society of Soil Science A, 17-21."},
	{[]string{"kostiakov_lewis"}, "Lewis, M. R. (1937). The rate of infiltration of water in irrigation practice. Transactions, American Geophysical Union 18, 361-368."},
	{[]string{"smith_parlange"}, "Smith, R. E., & Parlange, J.-Y. (1978). A parameter-efficient hydrologic infiltration model. Water Resources Research 14, 533-538."},
	{[]string{"average"}, "Burnham, K. P., & Anderson, D. R. (2002). Model Selection and Multimodel Inference (2nd ed.). Springer."},
	{[]string{"final_window"}, "Schuirmann, D. J. (1987). A comparison of the two one-sided tests procedure and the power approach for assessing the equivalence of average bioavailability. Journal of Pharmacokinetics and Biopharmaceutics 15, 657-680."},
	{[]string{"_20c"}, "Korson, L., Drost-Hansen, W., & Millero, F. J. (1969). Viscosity of water at various temperatures. Journal of Physical Chemistry 73, 34-39."},
	{[]string{"constant_loss_of_excess", "mean_loss"}, "Horton, R. E. (1933). The role of infiltration in the hydrologic cycle. Transactions, American Geophysical Union 14, 446-460."},
	{[]string{"initial_abstraction"}, "USDA Natural Resources Conservation Service (2004). National Engineering Handbook, part 630 hydrology, chapter 10: estimation of direct runoff from storm rainfall."},
	{[]string{"initial_abstraction_0.05"}, "Hawkins, R. H., Jiang, R., Woodward, D. E., Hjelmfelt, A. T., & Van Mullem, J. E. (2002). Runoff curve number method: examination of the initial abstraction ratio. Proceedings of the Second Federal Interagency Hydrologic Modeling Conference."},
	{[]string{"flow_weighted"}, "Guy, H. P. (1969). Laboratory theory and methods for sediment analysis. USGS Techniques of Water-Resources Investigations, book 5, chapter C1."},
	{[]string{"intensity_squared"}, "Liebenow, A. M., Elliot, W. J., Laflen, J. M., & Kohl, K. D. (1990). Interrill erodibility: collection and analysis of data from cropland soils. Transactions of the ASAE 33, 1882-1888."},
	{[]string{"intensity_and_runoff"}, "Kinnell, P. I. A. (1993). Interrill erodibilities based on the rainfall intensity-flow discharge erosivity factor. Australian Journal of Soil Research 31, 319-332."},
	{[]string{"brown_foster_1987"}, "Brown, L. C., & Foster, G. R. (1987). Storm erosivity using idealized intensity distributions. Transactions of the ASAE 30, 379-386."},
	{[]string{"mcgregor_1995"}, "McGregor, K. C., Bingner, R. L., Bowie, A. J., & Foster, G. R. (1995). Erosivity index values for northern Mississippi. Transactions of the ASAE 38, 1039-1047."},
	{[]string{"wischmeier_smith_1978"}, "Wischmeier, W. H., & Smith, D. D. (1978). Predicting rainfall erosion losses: a guide to conservation planning. USDA Agriculture Handbook 537."},
	{[]string{"wischmeier_smith_1978"}, "Foster, G. R., McCool, D. K., Renard, K. G., & Moldenhauer, W. C. (1981). Conversion of the Universal Soil Loss Equation to SI metric units. Journal of Soil and Water Conservation 36, 355-359."},
	{[]string{"uniformity_christiansen"}, "Christiansen, J. E. (1942). Irrigation by sprinkling. California Agricultural Experiment Station Bulletin 670."},
	{[]string{"uniformity_low_quarter"}, "Merriam, J. L., & Keller, J. (1978). Farm irrigation system evaluation: a guide for management. Utah State University, Logan."},
	{[]string{"intensity_drift"}, "Shewhart, W. A. (1931). Economic control of quality of manufactured product. Van Nostrand, New York."},
	{[]string{"random_effects"}, "Hartung, J., & Knapp, G. (2001). On tests of the overall treatment effect in meta-analysis with normally distributed responses. Statistics in Medicine 20, 1771-1782."},
	{[]string{"random_effects_dl"}, "DerSimonian, R., & Laird, N. (1986). Meta-analysis in clinical trials. Controlled Clinical Trials 7, 177-188."},
	{[]string{"satterthwaite"}, "Satterthwaite, F. E. (1946). An approximate distribution of estimates of variance components. Biometrics Bulletin 2, 110-114."},
	{[]string{"welch_t"}, "Welch, B. L. (1947). The generalization of Student's problem when several different population variances are involved. Biometrika 34, 28-35."},
	{[]string{"mann_whitney"}, "Mann, H. B., & Whitney, D. R. (1947). On a test of whether one of two random variables is stochastically larger than the other. Annals of Mathematical Statistics 18, 50-60."},
	{[]string{"cox_firth"}, "Cox, D. R. (1972). Regression models and life-tables. Journal of the Royal Statistical Society B 34, 187-220."},
	{[]string{"cox_firth"}, "Firth, D. (1993). Bias reduction of maximum likelihood estimates. Biometrika 80, 27-38."},
	{[]string{"log_rank"}, "Mantel, N. (1966). Evaluation of survival data and two new rank order statistics arising in its consideration. Cancer Chemotherapy Reports 50, 163-170."},
	{[]string{"kaplan_meier"}, "Kaplan, E. L., & Meier, P. (1958). Nonparametric estimation from incomplete observations. Journal of the American Statistical Association 53, 457-481."},
	{[]string{"holm"}, "Holm, S. (1979). A simple sequentially rejective multiple test procedure. Scandinavian Journal of Statistics 6, 65-70."},
	{[]string{"mean", "intensity", "gauge", "calibration"}, "JCGM 100:2008. Evaluation of measurement data: guide to the expression of uncertainty in measurement."},
}

// Sources returns the works that metrics and methods of these identifiers rest on.
func Sources(identifiers ...string) []string {
	var out []string
	for _, src := range sources {
		needed := slices.ContainsFunc(identifiers, func(id string) bool {
			return slices.ContainsFunc(src.words, func(w string) bool { return strings.Contains(id, w) })
		})
		if needed {
			out = append(out, src.work)
		}
	}
	return out
}

// methodsSection names what was computed, how, and by whose method.
func (s *Site) methodsSection(flagsOf) (section, error) {
	used, all := map[result.Metric]map[string]bool{}, map[string]bool{}
	note := func(m result.Metric, method string) {
		if used[m] == nil {
			used[m] = map[string]bool{}
		}
		if method != "" {
			used[m][method] = true
		}
	}
	for i := range s.in.Analysis.Plots {
		r := &s.in.Analysis.Plots[i]
		if r.Headline {
			note(r.Metric, r.Method)
		}
		all[r.Method] = true
	}
	for i := range s.in.Analysis.Calibrations {
		note(s.in.Analysis.Calibrations[i].Metric, "catch_cans")
	}
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
		all[s.in.Analysis.Comparisons[i].Method], all[s.in.Analysis.Comparisons[i].Adjustment] = true, true
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
	for _, work := range Sources(slices.Collect(maps.Keys(all))...) {
		sec.Items = append(sec.Items, fact(work))
	}
	return sec, nil
}
