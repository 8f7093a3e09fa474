package rainfall

import (
	"math"
	"slices"
	"time"

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
// uniformity, and coefficient of variation.
//
// The interval treats cans as a random sample of one catch: it tells how well
// the mean over the table is known, not how well the simulator repeats it.
// The uniformities carry none. A value that a catch does not have is missing
// with the flag too_few_cans or no_catch; fewer than 12 cans are flagged
// few_cans, since the mean deviation from their own mean is biased low and lets
// the rain look more even than it is.
func CalibrationRows(calibrations []Calibration, s Settings) []result.CalibrationRow {
	rows := make([]result.CalibrationRow, 0, 4*len(calibrations))
	for i := range calibrations {
		rows = appendCalibration(rows, &calibrations[i], s)
	}
	return rows
}

// fewCans is the number of cans below which uniformities are flagged: with 12
// normal cans the mean absolute deviation is 4 % low, sqrt(1 - 1/n).
const fewCans = 12

func appendCalibration(rows []result.CalibrationRow, c *Calibration, s Settings) []result.CalibrationRow {
	n := len(c.CatchMMH)
	row := func(m result.Metric, v float64, err error, words ...string) result.CalibrationRow {
		info, _ := m.Info()
		r := result.CalibrationRow{Dataset: c.Dataset, Calibration: c.ID, Simulator: c.Simulator, Date: isoDate(c.Date),
			Metric: m, Unit: info.SI, Level: s.Level, N: n, Flags: slices.Clone(c.Flags)}
		switch {
		case err == nil:
			r.Value = quantity.Some(v)
		case n < 2:
			r.Flags.Add("too_few_cans")
		default:
			r.Flags.Add("no_catch")
		}
		r.Flags.Add(words...)
		return r
	}
	intensity := row(result.Intensity, c.MeanMMH, nil)
	if n > 1 {
		half := gum.Coverage(s.Level, float64(n-1)) * c.SDMMH / math.Sqrt(float64(n))
		intensity.Low, intensity.High = quantity.Some(c.MeanMMH-half), quantity.Some(c.MeanMMH+half)
	} else {
		intensity.Flags.Add("too_few_cans")
	}
	few := ""
	if n >= 2 && n < fewCans {
		few = "few_cans"
	}
	cu, cuErr := Christiansen(c.CatchMMH)
	du, duErr := LowQuarter(c.CatchMMH, s.Boundary)
	cv, cvErr := Variation(c.CatchMMH)
	return append(rows, intensity,
		row(result.UniformityChristiansen, cu, cuErr, few),
		row(result.UniformityLowQuarter, du, duErr, few, s.Boundary.String()+"_quarter"),
		row(result.CoefficientOfVariation, cv, cvErr))
}

// isoDate writes a date, with the time of day where one was given.
func isoDate(t time.Time) string {
	switch {
	case t.IsZero():
		return ""
	case t.Equal(t.Truncate(24 * time.Hour)):
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
	low, high := gum.Within(r.DepthMM, u, gum.EffectiveDF(u, r.UDepth, r.DF), base.Level, gum.NonNegative())
	row.Estimate = result.Estimate{Value: quantity.Some(r.DepthMM), U: quantity.Some(u), Low: quantity.Some(low), High: quantity.Some(high),
		UShared: quantity.Some(r.UDepthShared), Censored: result.Observed, N: 1, Flags: slices.Clip(r.Flags)}
	return append(dst, row)
}
