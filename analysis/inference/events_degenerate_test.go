package inference_test

import (
	"errors"
	"math"
	"testing"

	"sheetwash/analysis/inference"
)

// One plot each that ran off, the first before the other: ln L = 1.5 ln p + 0.5 ln(1-p)
// with p = exp(b)/(1 + exp(b)), largest at p = 3/4, so that the ratio of hazards is 3.
func TestFirthHazardRatioByHand(t *testing.T) {
	r, err := inference.FirthHazardRatio([]float64{1, 2}, []bool{true, true}, []bool{true, false}, []string{"", ""}, 0.95)
	if err != nil || math.Abs(r.Value.V-3) > 1e-9 || !r.Monotone || !(r.Low.V < 1) || !(r.High.V > 3) {
		t.Errorf("%+v, %v", r, err)
	}
	// Turned round it is the inverse, limits too.
	s, err := inference.FirthHazardRatio([]float64{1, 2}, []bool{true, true}, []bool{false, true}, []string{"", ""}, 0.95)
	if err != nil || math.Abs(s.Value.V*r.Value.V-1) > 1e-9 || math.Abs(s.Low.V*r.High.V-1) > 1e-6 || math.Abs(s.P.V-r.P.V) > 1e-9 {
		t.Errorf("%+v, %v", s, err)
	}
}

// Ties after Efron: of two that ran off together, one of each group, the factors
// hold (2, 2) and (1.5, 1.5), each with half an event: the groups do not differ.
func TestFirthHazardRatioTies(t *testing.T) {
	r, err := inference.FirthHazardRatio([]float64{1, 2, 1, 2}, []bool{true, true, true, true}, []bool{true, true, false, false}, make([]string, 4), 0.95)
	if err != nil || math.Abs(r.Value.V-1) > 1e-9 || math.Abs(r.P.V-1) > 1e-9 {
		t.Errorf("%+v, %v", r, err)
	}
	if len(r.Risks) != 4 || r.Risks[1] != (inference.RiskSet{First: 1.5, Second: 1.5, Share: 0.5}) {
		t.Errorf("%+v", r.Risks)
	}
}

func TestDegenerateHazards(t *testing.T) {
	two, strata := []bool{true, false}, []string{"", ""}
	for name, c := range map[string]struct {
		time         []float64
		event, first []bool
		strata       []string
		flag         string
	}{
		"none ran off":      {[]float64{30, 30}, []bool{false, false}, two, strata, inference.FlagAllCensored},
		"one group":         {[]float64{3, 4}, []bool{true, true}, []bool{true, true}, strata, inference.FlagNotDefined},
		"strata of one":     {[]float64{3, 4}, []bool{true, true}, two, []string{"a", "b"}, inference.FlagNotDefined},
		"nothing":           {nil, nil, nil, nil, inference.FlagAllCensored},
		"one after the end": {[]float64{3, 2}, []bool{true, false}, two, strata, inference.FlagNotDefined},
	} {
		r, err := inference.FirthHazardRatio(c.time, c.event, c.first, c.strata, 0.95)
		if err != nil || !r.Flags.Has(c.flag) || r.Value.OK || r.Low.OK || r.P.OK {
			t.Errorf("%s: %+v, %v", name, r, err)
		}
	}
	if _, err := inference.FirthHazardRatio([]float64{math.NaN()}, []bool{true}, []bool{true}, []string{""}, 0.95); !errors.Is(err, inference.ErrInput) {
		t.Error(err)
	}
}

func TestDegenerateEventMeans(t *testing.T) {
	for name, c := range map[string]struct {
		events [][]inference.Bounds
		flag   string
	}{
		"all bounds":         {[][]inference.Bounds{atLeast(60, 2), atLeast(60, 3)}, inference.FlagAllCensored},
		"one event tells":    {[][]inference.Bounds{observed(1, 2, 3), atLeast(60, 3)}, inference.FlagFewObserved},
		"two values":         {[][]inference.Bounds{observed(1), append(observed(2), atLeast(60, 1)...)}, inference.FlagFewObserved},
		"no events":          {nil, inference.FlagAllCensored},
		"all equal":          {[][]inference.Bounds{observed(5, 5), observed(5, 5)}, inference.FlagNoSpread},
		"equal at the bound": {[][]inference.Bounds{observed(5, 5), atLeast(5, 2), observed(5)}, inference.FlagNoSpread},
	} {
		r, err := inference.CensoredEventMean(c.events, 0.95)
		if err != nil || !r.Flags.Has(c.flag) || r.Value.OK || r.Low.OK || r.High.OK {
			t.Errorf("%s: %+v, %v", name, r, err)
		}
	}
	for _, bad := range [][][]inference.Bounds{{{}, observed(1)}, {{{Low: 2, High: 1}}}} {
		if _, err := inference.CensoredEventMean(bad, 0.95); !errors.Is(err, inference.ErrInput) {
			t.Error(err)
		}
	}
}

func TestDegenerateBoundedMeans(t *testing.T) {
	for _, y := range [][]float64{{30, 30, 30}, {0, 0}, {12}} {
		if r, err := inference.BoundedMean(y, 30, 0.95); err != nil || r.Bounded() || len(r.Flags) == 0 {
			t.Errorf("%v: %+v, %v", y, r, err)
		}
	}
	r, err := inference.BoundedMean([]float64{29, 30, 30}, 30, 0.95)
	if err != nil || !(r.Low.V > 0 && r.High.V < 30 && r.Low.V < r.Value.V) {
		t.Errorf("%+v, %v", r, err)
	}
	for _, bad := range []float64{0, -1, math.Inf(1)} {
		if _, err := inference.BoundedMean([]float64{1, 2}, bad, 0.95); !errors.Is(err, inference.ErrInput) {
			t.Error(err)
		}
	}
}

func TestDegenerateMixedEvents(t *testing.T) {
	cell := func(event int, mean float64, n int, x ...float64) inference.EventCell {
		return inference.EventCell{Event: event, Mean: mean, N: n, X: x}
	}
	for name, c := range map[string]struct {
		cells []inference.EventCell
		flag  string
	}{
		"one event":           {[]inference.EventCell{cell(0, 1, 2, 1, 0), cell(0, 2, 2, 0, 1), cell(0, 3, 1, 1, 0), cell(0, 3, 1, 0, 1)}, inference.FlagNSmall},
		"few cells":           {[]inference.EventCell{cell(0, 1, 2, 1, 0), cell(1, 2, 2, 0, 1)}, inference.FlagNSmall},
		"all equal":           {[]inference.EventCell{cell(0, 1, 1, 1, 0), cell(0, 1, 1, 0, 1), cell(1, 1, 1, 1, 0), cell(1, 1, 1, 0, 1)}, inference.FlagNotDefined},
		"columns are one":     {[]inference.EventCell{cell(0, 1, 1, 1, 1), cell(0, 2, 1, 1, 1), cell(1, 3, 1, 1, 1), cell(1, 5, 1, 1, 1)}, inference.FlagNotDefined},
		"the same rain":       {[]inference.EventCell{cell(0, 1, 2, 1, 0), cell(0, 1, 2, 0, 1), cell(1, 2, 1, 1, 0), cell(1, 2, 2, 0, 1), cell(2, 5, 1, 1, 0), cell(2, 5, 1, 0, 1)}, inference.FlagNoSpread},
		"one difference":      {[]inference.EventCell{cell(0, 1, 1, 1, 0), cell(0, 4, 1, 0, 1), cell(1, 2, 1, 1, 0), cell(1, 5, 1, 0, 1), cell(2, 9, 1, 1, 0)}, inference.FlagNoSpread},
		"events are constant": {[]inference.EventCell{cell(0, 1, 1, 1, 0), cell(0, 3, 1, 0, 1), cell(1, 1, 1, 1, 0), cell(1, 3, 1, 0, 1)}, inference.FlagNotDefined},
	} {
		r, err := inference.MixedEvents(c.cells, inference.Scatter{})
		if err != nil || !r.Flags.Has(c.flag) || r.Coefficients != nil {
			t.Errorf("%s: %+v, %v", name, r, err)
		}
		if d := r.Contrast([]float64{1, -1}, 0.95); d.Value.OK || d.Low.OK || d.P.OK || len(d.Flags) == 0 {
			t.Errorf("%s: %+v", name, d)
		}
	}
	if _, err := inference.MixedEvents([]inference.EventCell{cell(0, math.NaN(), 1, 1)}, inference.Scatter{}); !errors.Is(err, inference.ErrInput) {
		t.Error(err)
	}
}
