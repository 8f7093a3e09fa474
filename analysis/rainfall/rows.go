package rainfall

import (
	"math"
	"slices"
	"strconv"
	"time"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// Settings says how calibrations are described.
type Settings struct {
	Level    float64  // of intervals
	Boundary Boundary // of the low quarter
}

// DefaultSettings returns 95 % intervals and the fractional boundary can.
func DefaultSettings() Settings { return Settings{Level: 0.95, Boundary: Fractional} }

// CalibrationRows describes calibrations for the calibrations table: spatial
// mean intensity with a t interval over cans, Christiansen and low-quarter
// uniformity and coefficient of variation with intervals by the jackknife, the
// discharge of the nozzles, and where the intensity stands in the control chart
// of its simulator. all holds the calibrations of all datasets, rigs the
// profiles of this one's simulators.
//
// The intervals treat cans as a random sample of one catch: they tell how well
// the table is known, not how well the simulator repeats it; that is what the
// chart is for. A value that a catch does not have is missing
// with the flag too_few_cans or no_catch; fewer than 12 cans are flagged
// few_cans, since the mean deviation from their own mean is biased low and lets
// the rain look more even than it is.
func CalibrationRows(calibrations, all []Calibration, rigs []experiment.Rig, s Settings) []result.CalibrationRow {
	rows := make([]result.CalibrationRow, 0, 6*len(calibrations))
	charts := chartsOf(calibrations, all)
	for i := range calibrations {
		d := description{c: &calibrations[i], s: s}
		rig := experiment.RigOf(rigs, calibrations[i].Simulator)
		rows = append(rows, d.intensity(rig), d.uniformity(), d.lowQuarter(), d.variation(), d.discharge(rig), d.drift(charts))
	}
	return rows
}

// fewCans is the number of cans below which uniformities are flagged: with 12
// normal cans the mean absolute deviation is 4 % low, sqrt(1 - 1/n).
const fewCans = 12

// description makes the rows of one calibration.
type description struct {
	c *Calibration
	s Settings
}

func (d description) row(m result.Metric, words ...string) result.CalibrationRow {
	c := d.c
	info, _ := m.Info()
	r := result.CalibrationRow{Dataset: c.Dataset, Calibration: c.ID, Simulator: c.Simulator, Date: isoDate(c.Date),
		Metric: m, Unit: info.SI, Level: d.s.Level, N: len(c.CatchMMH), Flags: slices.Clone(c.Flags)}
	r.Flags.Add(words...)
	return r
}

func (d description) intensity(rig *experiment.Rig) result.CalibrationRow {
	c := d.c
	r := d.row(result.Intensity)
	if rig != nil && c.PressureKPa.OK && outsideBand(c.PressureKPa.V, rig) {
		r.Flags.Add("pressure_outside_band")
	}
	r.Value = quantity.Some(c.MeanMMH)
	n := c.effective()
	if !(n > 1) {
		r.Flags.Add("too_few_cans")
		return r
	}
	half := gum.Coverage(d.s.Level, n-1) * c.SDMMH / math.Sqrt(n)
	r.Low, r.High = quantity.Some(c.MeanMMH-half), quantity.Some(c.MeanMMH+half)
	return r
}

// pattern returns the row of a measure of the pattern of a catch. of turns an
// unevenness into the metric.
func (d description) pattern(m result.Metric, u unevenness, of func(float64) float64, words ...string) result.CalibrationRow {
	c := d.c
	r := d.row(m, words...)
	v, err := u.of(c.CatchMMH, c.Weights)
	switch {
	case err == nil:
		r.Value = quantity.Some(of(v))
	case len(c.CatchMMH) < 2:
		r.Flags.Add("too_few_cans")
	default:
		r.Flags.Add("no_catch")
	}
	if low, high, ok := u.interval(c.CatchMMH, c.Weights, d.s.Level); ok {
		a, b := of(low), of(high)
		r.Low, r.High = quantity.Some(min(a, b)), quantity.Some(max(a, b))
	}
	return r
}

func (d description) few() string {
	if n := len(d.c.CatchMMH); n >= 2 && n < fewCans {
		return "few_cans"
	}
	return ""
}

func percentOfEven(u float64) float64 { return 100 * (1 - u) }

func (d description) uniformity() result.CalibrationRow {
	return d.pattern(result.UniformityChristiansen, christiansenUnevenness(), percentOfEven, d.few())
}

func (d description) lowQuarter() result.CalibrationRow {
	rule := d.s.Boundary
	if d.c.Weights != nil {
		rule = Fractional // of the area, not of the number of cans
	}
	return d.pattern(result.UniformityLowQuarter, lowQuarterUnevenness(rule), percentOfEven, d.few(), rule.String()+"_quarter")
}

func (d description) variation() result.CalibrationRow {
	return d.pattern(result.CoefficientOfVariation, variationUnevenness(), func(v float64) float64 { return v })
}

// discharge returns the flow of the nozzles at the pressure of the catch.
//
//	Q = count Q_profile sqrt(p / p_profile)
//
// A catch without a pressure is taken to be at that of the profile (flag
// pressure_assumed). Where the profile tells no flow there is no value.
// Source: ScaleDischarge.
func (d description) discharge(rig *experiment.Rig) result.CalibrationRow {
	r := d.row(result.Discharge)
	if rig == nil || !rig.NozzleLMin.OK {
		r.Flags.Add("no_nozzle_flow")
		return r
	}
	q := rig.NozzleLMin.V * float64(max(1, rig.Nozzles))
	if p := d.c.PressureKPa; p.OK && rig.NozzleKPa.OK {
		scaled, err := ScaleDischarge(q, rig.NozzleKPa.V, p.V)
		if err != nil {
			r.Flags.Add("not_defined")
			return r
		}
		q = scaled
		if outsideBand(p.V, rig) {
			r.Flags.Add("pressure_outside_band")
		}
	} else {
		r.Flags.Add("pressure_assumed")
	}
	r.Value = quantity.Some(q)
	return r
}

// drift returns where the calibration stands in the chart of its simulator: the
// value is the intensity minus the centre, the interval that of the limits.
func (d description) drift(charts season) result.CalibrationRow {
	r := d.row(result.IntensityDrift)
	c, at, ok := charts.of(d.c)
	r.Level, r.N = threeSigma, len(c.Values)
	if !ok {
		word := "one_calibration"
		if d.c.Date.IsZero() || d.c.Simulator == "" {
			word = "not_charted"
		}
		r.Flags.Add(word)
		return r
	}
	r.Flags.Add("between_sd=" + strconv.FormatFloat(c.SD, 'f', 3, 64))
	r.Value, r.Low, r.High = quantity.Some(c.Values[at]-c.Centre), quantity.Some(c.Low-c.Centre), quantity.Some(c.High-c.Centre)
	for _, w := range []struct {
		word string
		on   bool
	}{{"out_of_control", c.Out[at]}, {"shifted", c.Run[at]}, {"chart_too_short", !c.CanSignal}, {"pressures_differ", c.pressures}} {
		if w.on {
			r.Flags.Add(w.word)
		}
	}
	return r
}

// threeSigma is the share of a normal distribution within three standard deviations.
const threeSigma = 0.9973

// isoDate writes a date, with the time of day where one was given.
func isoDate(t time.Time) string {
	switch hour, minute, second := t.Clock(); {
	case t.IsZero():
		return ""
	case hour == 0 && minute == 0 && second == 0 && t.Nanosecond() == 0: // of its own zone
		return t.Format(time.DateOnly)
	default:
		return t.Format(time.RFC3339)
	}
}

// AppendRows appends the row of rain_depth. base holds the columns that name
// the plot, and the level.
func AppendRows(dst []result.PlotRow, base result.PlotRow, r *Rain) []result.PlotRow {
	row := base
	info, _ := result.RainDepth.Info()
	row.Metric, row.Method, row.Headline, row.Unit = result.RainDepth, r.Source, true, info.SI
	u := gum.Combined(r.UDepth, r.UDepthShared)
	low, high := gum.Within(r.DepthMM, u, gum.WelchSatterthwaite(u, []float64{r.UDepth, r.UDepthShared}, []float64{r.DF, r.DFDepthShared}), base.Level, gum.NonNegative())
	row.Estimate = result.Estimate{Value: quantity.Some(r.DepthMM), U: quantity.Some(u), Low: quantity.Some(low), High: quantity.Some(high),
		UShared: quantity.Some(r.UDepthShared), Censored: result.Observed, N: 1, Flags: slices.Clip(r.Flags)}
	return append(dst, row)
}
