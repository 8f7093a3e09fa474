package acceptance

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"sheetwash/analysis/analysistest"
	"sheetwash/analysis/quantity"
)

// example is a worked example under its test: inputs are asked by name.
type example struct {
	analysistest.Example
	t *testing.T
}

func (e example) n(name string) float64    { return e.Number(e.t, name) }
func (e example) ns(name string) []float64 { return e.Numbers(e.t, name) }
func (e example) word(name string) string  { return e.Text(e.t, name) }

// errNoValue stands for a function that says that there is no value.
var errNoValue = errors.New("no value")

// given makes a value and whether there is one into a value and an error.
func given(v float64, ok bool) (float64, error) {
	if !ok {
		return 0, errNoValue
	}
	return v, nil
}

func known(v quantity.Optional, err error) (float64, error) {
	if err != nil {
		return 0, err
	}
	return given(v.V, v.OK)
}

// plain makes a value that is always there.
func plain(v float64) (float64, error) { return v, nil }

// pick returns a named result.
func pick(what string, of map[string]quantity.Optional) (float64, error) {
	v, ok := of[what]
	if !ok {
		return 0, fmt.Errorf("unknown result %q", what)
	}
	return known(v, nil)
}

// quantities maps every quantity of worked examples to our code.
func quantities() map[string]func(example) (float64, error) {
	out := map[string]func(example) (float64, error){}
	for _, part := range []map[string]func(example) (float64, error){unitQuantities, rainQuantities, lossQuantities, infiltrationQuantities, sedimentQuantities, statisticQuantities} {
		for name, f := range part {
			out[name] = f
		}
	}
	return out
}

// TestWorkedExamples compares our code with every published worked example, and
// with those of the file that SHEETWASH_WORKED_EXAMPLES names, by an absolute path
// or one below the module. A quantity that is not mapped is a failure.
func TestWorkedExamples(t *testing.T) {
	files := []string{analysistest.Path(t, "testdata", "reference", "worked_examples.csv")}
	if more := os.Getenv("SHEETWASH_WORKED_EXAMPLES"); more != "" {
		if !filepath.IsAbs(more) {
			more = analysistest.Path(t, more)
		}
		files = append(files, more)
	}
	ours := quantities()
	for _, file := range files {
		all := analysistest.AllExamples(t, file)
		for _, e := range all {
			t.Run(e.ID, func(t *testing.T) {
				f := ours[e.Quantity]
				if f == nil {
					t.Fatalf("quantity %q is not mapped", e.Quantity)
				}
				v, err := f(example{e, t})
				e.Check(t, v, err)
			})
		}
		t.Logf("%s: %d rows", file, len(all))
	}
}

// The format names more quantities than there are rows: each is mapped, and
// each that is mapped is one of the format's.
func TestEveryQuantityIsMapped(t *testing.T) {
	var ours []string
	for name := range quantities() {
		ours = append(ours, name)
	}
	slices.Sort(ours)
	want := slices.Clone(quantityNames)
	slices.Sort(want)
	if !slices.Equal(ours, want) {
		t.Errorf("mapped %v\nwant %v", ours, want)
	}
}

// quantityNames are the quantities of the format of worked examples.
var quantityNames = []string{
	"unit_conversion", "depth_from_volume_mm", "cu", "cu_from_cv_normal", "du_lq", "du_lh", "du_from_cv_normal", "nozzle_flow_scale", "jet_velocity",
	"gunn_kinzer_velocity", "atlas_velocity", "laws_parsons_d50", "mp_lambda", "ke_unit", "ke_unit_us", "event_energy", "ei30_constant",
	"interval_intensity", "max_window_intensity", "scs_runoff", "scs_s", "scs_ia", "scs_cn_from_pq", "cn05_from_cn20", "ga_cumulative", "ga_rate",
	"ga_ponding_time", "ga_ponding_depth", "ga_cumulative_rain", "ga_rate_rain", "ga_rate_at_front", "ga_time_to_front", "ga_front_at_ponding", "ga_dtheta",
	"rawls_1983", "horton_rate", "horton_cumulative", "horton_ponding_depth", "philip_cumulative", "philip_ponding_time", "sorptivity_horizontal",
	"smith_parlange_ponding_depth", "average_rate_from_cumulative", "phi_index", "w_index", "excess_depth", "storage_depth_gravimetric_mm",
	"suspension_concentration_g_L", "ppm_to_mg_per_L", "interrill_slope_factor", "slope_steepness", "slope_steepness_short", "cover_ratio", "ki_from_intensity",
	"water_density_tanaka", "water_density_kell", "water_viscosity_korson", "rate_to_20c", "mean", "sd", "sem", "numacc", "u_rectangular", "u_triangular",
	"u_resolution", "combined_u", "welch_satterthwaite", "t_quantile", "paired_t", "welch_t", "linreg", "nls", "km_survival", "km_se", "km_median", "logrank_chi2",
}
