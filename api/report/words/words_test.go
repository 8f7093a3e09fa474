package words

import (
	"strings"
	"testing"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/api/report"
)

// Rounding for people, worked by hand.
func TestSignificant(t *testing.T) {
	for _, tt := range []struct {
		v    float64
		n    int
		want string
	}{
		{18, 3, "18.0"}, {18.25, 3, "18.2"}, {9.996, 3, "10.0"}, {0.07891, 2, "0.079"}, {150.4, 3, "150"},
		{1234, 2, "1200"}, {0, 3, "0"}, {-3.456, 2, "-3.5"}, {0.9999, 2, "1.0"},
	} {
		if got := Significant(tt.v, tt.n); got != tt.want {
			t.Errorf("Significant(%v, %d) = %s, want %s", tt.v, tt.n, got, tt.want)
		}
	}
}

// Two significant digits of the uncertainty. The first is the example of GUM2008,
// 7.2.6: 10.057 62 ohm with 27 milliohm is written 10.058 ohm.
func TestRounded(t *testing.T) {
	for _, tt := range []struct {
		v, u float64
		want string
	}{
		{10.05762, 0.027, "10.058"},
		{9.85, 0.0755, "9.850"},
		{35, 1.05, "35.0"},
		{35, 0.996, "35.0"}, // 0.996 has the two digits 1.0
		{1234.4, 250, "1230"},
		{1236, 2500, "1200"},
		{-0.004, 0.21, "0.00"},
		{5.04, 0, "5.04"},
	} {
		if got := Rounded(tt.v, quantity.Some(tt.u)); got != tt.want {
			t.Errorf("%v with u %v is written %s, want %s", tt.v, tt.u, got, tt.want)
		}
	}
	if got := Rounded(0, quantity.None()); got != "0" {
		t.Errorf("zero is written %s", got)
	}
}

func row(m result.Metric, v float64, unit string) *result.TreatmentRow {
	return &result.TreatmentRow{Scope: "event:Pell Farm", Treatment: "potato ridges, bare", Metric: m, Headline: true, Value: quantity.Some(v), Unit: unit, NPlots: 1}
}

// One inch of water on an acre is 27,154 gallons: 43,560 square feet of a twelfth
// of a foot, 7.48052 gallons a cubic foot. One ton an acre is 224.170 g/m2:
// 907.18474 kg on 4046.87 m2.
func TestAmountsOverTheLand(t *testing.T) {
	for _, tt := range []struct {
		units    report.Units
		mm, loss float64
		want     string
	}{
		{report.US, 25.4, 224.170, "1.0 in ran off, 27,000 gallons per acre, and took 1.0 tons of sediment per acre with it."},
		{report.US, 2.54, 22.417, "0.1 in ran off, 2,700 gallons per acre, and took 0.10 tons of sediment per acre with it."},
		{report.SI, 12.34, 100, "12 mm ran off, 12 litres per square metre, and took 1.0 tonnes of sediment per hectare with it."},
	} {
		a := Amounts{Rain: row(result.RainDepth, 50.8, "mm"), Runoff: row(result.RunoffDepth, tt.mm, "mm"), SoilLoss: row(result.SoilLoss, tt.loss, "g/m2")}
		if got := Water(tt.units, "bare", a).String(); !strings.HasSuffix(got, tt.want) {
			t.Errorf("%v mm and %v g/m2: %s", tt.mm, tt.loss, got)
		}
	}
}

// What is said of how far off a value may be.
func TestUncertaintyInWords(t *testing.T) {
	for _, tt := range []struct {
		change func(*Amounts)
		want   string
	}{
		{func(*Amounts) {}, "20 mm ran off (one plot, so that nothing tells how much another would differ), 20 litres"},
		{func(a *Amounts) {
			a.Runoff.NPlots, a.Runoff.Low, a.Runoff.High = 3, quantity.Some(18.2), quantity.Some(22)
		}, "20 mm ran off (likely between 18 and 22 mm, judged from 3 plots), 20"},
		{func(a *Amounts) {
			a.Runoff.NPlots, a.Runoff.Low, a.Runoff.High = 3, quantity.Some(-1), quantity.Some(22)
		}, "(likely below 22 mm, judged from 3 plots)"},
		{func(a *Amounts) { a.Runoff.NPlots = 2 }, "(2 plots, too few to say how far off that may be)"},
		{func(a *Amounts) { a.Runoff.NPlots, a.Runoff.Value = 2, quantity.Some(0) }, "of 35 mm of rain nothing ran off on any of 2 plots."},
		{func(a *Amounts) { a.Runoff.Value = quantity.Some(-0.0002) }, "of 35 mm of rain nothing ran off (one plot"}, // noise of a balance
		{func(a *Amounts) {
			a.Runoff.Value, a.TimeToRunoff = quantity.Some(0.003), row(result.TimeToRunoff, 29, "min")
		}, "of 35 mm of rain almost nothing ran off (one plot"},
		{func(a *Amounts) { a.TimeToRunoff = row(result.TimeToRunoff, 5.967, "min") }, "; runoff began after 6.0 min."},
		{func(a *Amounts) {
			a.Runoff.NPlots, a.Runoff.Value = 2, quantity.Some(0)
			a.TimeToRunoff = row(result.TimeToRunoff, 30, "min")
			a.TimeToRunoff.Flags.Add("none_ran_off")
		}, "nothing ran off on any of 2 plots within 30 min."},
		{func(a *Amounts) {
			a.TimeToRunoff = row(result.TimeToRunoff, 24, "min")
			a.TimeToRunoff.NPlots, a.TimeToRunoff.NCensored = 4, 1
		}, "; runoff began after 24 min on average, plots that never ran off counted with the time of rain."},
	} {
		a := Amounts{Rain: row(result.RainDepth, 35, "mm"), Runoff: row(result.RunoffDepth, 20, "mm")}
		tt.change(&a)
		if got := WithUncertainty(report.SI, "ley", a).String(); !strings.Contains(got, tt.want) {
			t.Errorf("want %q in: %s", tt.want, got)
		}
	}
	if got := WithUncertainty(report.SI, "ley", Amounts{}); got != nil {
		t.Errorf("of nothing: %q", got)
	}
}
