package acceptance

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"sheetwash/analysis/balance"
	"sheetwash/analysis/erosion"
	"sheetwash/analysis/hydrograph"
	"sheetwash/analysis/infiltration"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/rainfall"
	"sheetwash/analysis/water"
	"sheetwash/ingest/units"
)

var unitQuantities = map[string]func(example) (float64, error){
	"unit_conversion":      convert,
	"depth_from_volume_mm": func(e example) (float64, error) { return plain(rainfall.CanDepth(e.n("volume_mL"), e.n("area_cm2"))) },
}

// unitCodes are the units of the format that are no spellings of the trade.
var unitCodes = map[string]string{
	"100ft_tonf_in/acre_h": "100.[ft_i].[ston_av].[g].[in_i]/([acr_us].h)", "MJ_mm/ha_h": "MJ.mm/(har.h)", "fl_oz": "[foz_us]",
	"ton/acre": "[ston_av]/[acr_us]", "t/ha": "t/har", "ha": "har",
}

func convert(e example) (float64, error) {
	to, err := unitOfCode(e.word("to"))
	if err != nil {
		return 0, err
	}
	from, err := unitOfCode(e.word("frm"), to.Dimension())
	if err != nil {
		return 0, err
	}
	return from.ConvertTo(e.n("value"), to)
}

func unitOfCode(code string, expected ...quantity.Dimension) (quantity.Unit, error) {
	if c, ok := unitCodes[code]; ok {
		return quantity.Parse(c)
	}
	u, err := units.Resolve(code, expected...)
	return u.Unit, err
}

var rainQuantities = map[string]func(example) (float64, error){
	"cu":                func(e example) (float64, error) { return rainfall.Christiansen(e.ns("catch")) },
	"cu_from_cv_normal": func(e example) (float64, error) { return plain(rainfall.ChristiansenNormal(e.n("cv"))) },
	"du_lq":             func(e example) (float64, error) { return lowPart(e, rainfall.LowQuarter) },
	"du_lh":             func(e example) (float64, error) { return lowPart(e, rainfall.LowHalf) },
	"du_from_cv_normal": func(e example) (float64, error) { return plain(rainfall.LowQuarterNormal(e.n("cv"))) },
	"nozzle_flow_scale": func(e example) (float64, error) { return rainfall.ScaleDischarge(e.n("q1"), e.n("p1"), e.n("p2")) },
	"jet_velocity": func(e example) (float64, error) {
		kPa, err := quantity.MustParse("[psi]").ConvertTo(e.n("p_psi"), quantity.MustParse("kPa"))
		if err != nil {
			return 0, err
		}
		return rainfall.JetSpeed(kPa, e.n("rho"))
	},
	"gunn_kinzer_velocity": func(e example) (float64, error) { return rainfall.TerminalSpeed(e.n("d_mm")) },
	"atlas_velocity":       func(e example) (float64, error) { return rainfall.TerminalSpeedAtlas(e.n("d_mm")) },
	"laws_parsons_d50":     func(e example) (float64, error) { return rainfall.MedianDrop(e.n("i_mm_h")) },
	"mp_lambda":            func(e example) (float64, error) { return rainfall.SpectrumSlope(e.n("r_mm_h")) },
	"ke_unit":              func(e example) (float64, error) { return withEquation(e, e.n("i_mm_h"), rainfall.NaturalUnitEnergy) },
	"ke_unit_us":           func(e example) (float64, error) { return withEquation(e, e.n("i_in_h"), rainfall.NaturalUnitEnergyUS) },
	"event_energy": func(e example) (float64, error) {
		return withEquation(e, e.n("i_mm_h"), func(i float64, eq rainfall.EnergyEquation) (float64, error) {
			depth := e.n("depth_mm")
			course := rainfall.Course{TimeMin: []float64{0, 60 * depth / i}, DepthMM: []float64{0, depth}}
			return course.NaturalEnergy(eq)
		})
	},
	"ei30_constant": func(e example) (float64, error) {
		return withEquation(e, e.n("i_mm_h"), func(i float64, eq rainfall.EnergyEquation) (float64, error) {
			return rainfall.ConstantErosivity(i, e.n("duration_min"), eq)
		})
	},
	"interval_intensity": func(e example) (float64, error) {
		c, err := rainfall.NewCourse(e.ns("cum"), e.n("step_min"))
		if err != nil {
			return 0, err
		}
		return c.Intensity(int(e.n("index")))
	},
	"max_window_intensity": func(e example) (float64, error) {
		c, err := rainfall.NewCourse(e.ns("cum"), e.n("step_min"))
		if err != nil {
			return 0, err
		}
		return c.LargestMean(e.n("window_min"))
	},
}

func lowPart(e example, f func([]float64, rainfall.Boundary) (float64, error)) (float64, error) {
	rule, ok := rainfall.ParseBoundary(e.word("rule"))
	if !ok {
		return 0, fmt.Errorf("rule %q", e.word("rule"))
	}
	return f(e.ns("catch"), rule)
}

// withEquation calls a function with the equation that a row names.
func withEquation(e example, i float64, f func(float64, rainfall.EnergyEquation) (float64, error)) (float64, error) {
	equation, ok := map[string]rainfall.EnergyEquation{
		"brown_foster_1987": rainfall.BrownFoster1987, "mcgregor_1995": rainfall.McGregor1995, "wischmeier_smith_capped": rainfall.WischmeierSmith1978,
		"wischmeier_smith_uncapped": rainfall.WischmeierSmithWithoutCap, "wischmeier_smith_1958": rainfall.WischmeierSmith1958,
	}[e.word("eq")]
	if !ok {
		return 0, fmt.Errorf("equation %q", e.word("eq"))
	}
	return f(i, equation)
}

// inch is what the curve-number rows are in.
const inch = 25.4

func abstraction(e example) float64 { return e.Optional(0.2, "ratio", "ia_ratio", "lam", "lambda") }

func inInches(mm float64, ok bool) (float64, error) { return given(mm/inch, ok) }

var lossQuantities = map[string]func(example) (float64, error){
	"scs_runoff": func(e example) (float64, error) {
		return inInches(hydrograph.DirectRunoff(inch*e.n("p"), e.n("cn"), abstraction(e)))
	},
	"scs_s": func(e example) (float64, error) { return inInches(hydrograph.Retention(e.n("cn"))) },
	"scs_ia": func(e example) (float64, error) {
		return inInches(hydrograph.InitialAbstraction(e.n("cn"), abstraction(e)))
	},
	"scs_cn_from_pq": func(e example) (float64, error) {
		s, ok := hydrograph.RetentionOf(inch*e.n("p"), inch*e.n("q"), abstraction(e))
		if !ok {
			return 0, errNoValue
		}
		return given(hydrograph.CurveNumberOf(s))
	},
	"cn05_from_cn20": func(e example) (float64, error) { return given(hydrograph.CurveNumber005(e.n("cn20"))) },
	"phi_index": func(e example) (float64, error) {
		var steps []hydrograph.RainStep
		for _, depth := range e.ns("rain_depth") {
			steps = append(steps, hydrograph.RainStep{Depth: depth, Hours: e.n("dt_h")})
		}
		return given(hydrograph.PhiIndex(steps, e.n("runoff")))
	},
	"w_index": func(e example) (float64, error) {
		return given(hydrograph.WIndex(e.n("total_rain"), e.n("runoff"), e.n("storage"), e.n("duration_h")))
	},
	"excess_depth": func(e example) (float64, error) {
		return plain(hydrograph.ExcessDepth(e.ns("rain_depth"), e.n("loss_per_interval")))
	},
	"storage_depth_gravimetric_mm": func(e example) (float64, error) {
		return given(balance.StorageGravimetric(e.n("gamma_d"), e.n("gamma_w"), 1000*e.n("depth_m"), e.n("w1"), e.n("w2")))
	},
}

func greenAmpt(e example) infiltration.GreenAmpt {
	return infiltration.GreenAmpt{K: e.n("K"), PsiTheta: e.n("psi_dtheta")}
}

func horton(e example) infiltration.Horton {
	return infiltration.Horton{F0: e.n("f0"), FC: e.n("fc"), K: e.n("k")}
}

var infiltrationQuantities = map[string]func(example) (float64, error){
	"ga_cumulative":      func(e example) (float64, error) { return greenAmpt(e).Depth(e.n("t")) },
	"ga_rate":            func(e example) (float64, error) { return greenAmpt(e).Rate(e.n("t")) },
	"ga_ponding_time":    func(e example) (float64, error) { return greenAmpt(e).PondingTime(e.n("i")) },
	"ga_ponding_depth":   func(e example) (float64, error) { return greenAmpt(e).PondingDepth(e.n("i")) },
	"ga_cumulative_rain": func(e example) (float64, error) { return greenAmpt(e).DepthUnderRain(e.n("i"), e.n("t")) },
	"ga_rate_rain":       func(e example) (float64, error) { return greenAmpt(e).RateUnderRain(e.n("i"), e.n("t")) },
	"ga_rate_at_front": func(e example) (float64, error) {
		return infiltration.RateAtFront(e.n("K"), e.n("psi"), e.n("h0"), e.n("L"))
	},
	"ga_time_to_front": func(e example) (float64, error) {
		return infiltration.TimeToFront(e.n("K"), e.n("psi"), e.n("h0"), e.n("dtheta"), e.n("L"))
	},
	"ga_front_at_ponding":  func(e example) (float64, error) { return infiltration.FrontAtPonding(e.n("K"), e.n("psi"), e.n("i")) },
	"ga_dtheta":            func(e example) (float64, error) { return plain(infiltration.Deficit(e.n("theta_e"), e.n("se"))) },
	"rawls_1983":           rawls,
	"horton_rate":          func(e example) (float64, error) { return horton(e).Rate(e.n("t")) },
	"horton_cumulative":    func(e example) (float64, error) { return horton(e).Depth(e.n("t1"), e.n("t2")) },
	"horton_ponding_depth": func(e example) (float64, error) { return horton(e).PondingDepth(e.n("i")) },
	"philip_cumulative":    func(e example) (float64, error) { return infiltration.Philip{S: e.n("S"), A: e.n("A")}.Depth(e.n("t")) },
	"philip_ponding_time":  func(e example) (float64, error) { return infiltration.PhilipPondingTime(e.n("S"), e.n("A"), e.n("i")) },
	"sorptivity_horizontal": func(e example) (float64, error) {
		return infiltration.SorptivityHorizontal(e.n("volume_cm3"), e.n("area_cm2"), e.n("t_h"))
	},
	"smith_parlange_ponding_depth": func(e example) (float64, error) {
		return infiltration.SmithParlangePondingDepth(e.n("G"), e.n("K"), e.n("i"))
	},
	"average_rate_from_cumulative": func(e example) (float64, error) {
		return infiltration.RingRate(e.n("volume_cm3"), e.n("diameter_cm"), e.n("minutes"))
	},
}

func rawls(e example) (float64, error) {
	s, ok := infiltration.Rawls1983(strings.ReplaceAll(strings.ToLower(e.word("texture")), "_", " "))
	if !ok {
		return 0, fmt.Errorf("texture %q", e.word("texture"))
	}
	switch strings.ToLower(e.word("parameter")) {
	case "psi_cm", "wetting_front_suction_cm":
		return s.SuctionCM, nil
	case "k_cm_h", "hydraulic_conductivity_cm_h":
		return s.ConductivityCMH, nil
	case "porosity", "eta":
		return s.Porosity, nil
	case "effective_porosity", "theta_e":
		return s.EffectivePorosity, nil
	}
	return 0, errors.New("parameter " + e.word("parameter"))
}

var sedimentQuantities = map[string]func(example) (float64, error){
	"suspension_concentration_g_L": func(e example) (float64, error) {
		rho, err := water.Density(water.ReferenceC)
		if err != nil {
			return 0, err
		}
		return given(water.Suspension{WaterG: e.n("water_g"), SedimentG: e.n("dry_sediment_g"), WaterKgM3: rho}.PerLSuspension())
	},
	"ppm_to_mg_per_L":        func(e example) (float64, error) { return plain(water.PPMToMgPerL(e.n("ppm"))) },
	"interrill_slope_factor": func(e example) (float64, error) { return plain(erosion.InterrillSlopeFactor(e.n("slope_pct") / 100)) },
	"slope_steepness":        func(e example) (float64, error) { return plain(erosion.SlopeSteepness(e.n("slope_pct") / 100)) },
	"slope_steepness_short":  func(e example) (float64, error) { return plain(erosion.SlopeSteepnessShort(e.n("slope_pct") / 100)) },
	"cover_ratio":            func(e example) (float64, error) { return plain(erosion.CoverRatio(e.n("b_per_pct"), e.n("cover_pct"))) },
	"ki_from_intensity": func(e example) (float64, error) {
		return given(erosion.ErodibilityOfRain(e.n("d_kg_m2_s"), e.n("i_mm_h"), e.n("slope_pct")/100))
	},
	"water_density_tanaka":   func(e example) (float64, error) { return water.Density(e.n("t_c")) },
	"water_density_kell":     func(e example) (float64, error) { return water.DensityKell(e.n("t_c")) },
	"water_viscosity_korson": func(e example) (float64, error) { return water.Viscosity(e.n("t_c")) },
	"rate_to_20c":            func(e example) (float64, error) { return water.RateAt20C(e.n("rate"), e.n("t_c")) },
}

// nonlinear are the models of the nonlinear regressions.
var nonlinear = map[string]func(x float64, b []float64) float64{
	"power":      func(x float64, b []float64) float64 { return b[0] * math.Pow(x, b[1]) },
	"saturating": func(x float64, b []float64) float64 { return b[0] * -math.Expm1(-b[1]*x) },
}
