package balance

import (
	"math"

	"sheetwash/analysis/internal/gum"
)

// Sign says which way a balance is wrong beyond its error.
type Sign int8

// More water left than fell, nothing is wrong beyond the error, or water is missing. Missing
// water is a fault only where every term was measured.
const (
	MoreOut Sign = iota - 1
	Fine
	Missing
)

// Verdict is a balance that was held against its error, and the faults that could make
// it so, the likeliest first.
type Verdict struct {
	Sign     Sign
	Judged   bool // there was something to hold against the rain
	suspects []string
}

// The words of faults. A suspect is where to look, not a finding of guilt.
const (
	moreOut        = "more_out_than_in"
	waterMissing   = "water_missing"
	suspectGauge   = "suspect_gauge"   // intensity or its gauge: common to the run
	suspectArea    = "suspect_area"    // the catching area
	suspectFunnel  = "suspect_funnel"  // rain into the open funnel; or water that passed behind it
	suspectDebris  = "suspect_debris"  // water or debris between the plot's base and its tray
	suspectEarlier = "suspect_earlier" // drainage that is left from an earlier run
	suspectStorage = "suspect_storage" // the storage measurement
	suspectJar     = "suspect_overflow"
)

// Words are the flags of the verdict: what is wrong, then where to look. None for a
// balance that is fine.
func (v Verdict) Words() []string {
	switch v.Sign {
	case MoreOut:
		return append([]string{moreOut}, v.suspects...)
	case Missing:
		return append([]string{waterMissing}, v.suspects...)
	}
	return nil
}

// judge holds the terms that are known against the rain. What is not known counts as
// nothing, which leaves the test of too much water valid: runoff alone above the rain, or
// with drainage, or with a gain of storage, is impossible.
//
//	wrong where |P - Q - D - S - L| > k u,  k of the level
//
// Source: the equation of Of; [GUM2008] G.3 for k.
func (in *Input) judge() Verdict {
	if !in.Runoff.Known {
		return Verdict{}
	}
	all := *in
	if len(in.Gains) > 0 && in.Gains[0].DepthMM < 0 && !in.Drainage.Known {
		all.Gains = nil // soil that lost water to a drain nobody watched
	}
	v := Verdict{Judged: true}
	complete := in.Drainage.Known && len(in.Gains) > 0
	switch c, beyond := all.residual(); {
	case beyond && c < 0:
		v.Sign = MoreOut
		v.suspects = in.whereFrom()
	case beyond && c > 0 && complete:
		v.Sign = Missing
		v.suspects = in.whereTo()
	}
	return v
}

// residual returns the closure of what is known, and whether it is beyond its error.
func (in *Input) residual() (c float64, beyond bool) {
	r, ok := gum.Propagate(model(in.weighed()), in.terms(true), in.Level, gum.Unbounded())
	return r.Value, ok && math.Abs(r.Value) > gum.Coverage(in.Level, r.DF)*r.U
}

// whereFrom names the faults that bring water into a balance.
func (in *Input) whereFrom() []string {
	alone := *in
	alone.Drainage, alone.Gains, alone.Splash, alone.Edge = Water{}, nil, Water{}, Water{}
	if c, beyond := alone.residual(); beyond && c < 0 {
		return []string{suspectGauge, suspectArea, suspectFunnel}
	}
	out := make([]string, 0, 5)
	if in.Drainage.Known && in.Drainage.DepthMM > 2*in.Drainage.UMM {
		out = append(out, suspectDebris)
		if in.RunBefore {
			out = append(out, suspectEarlier)
		}
	}
	if len(in.Gains) > 0 {
		out = append(out, suspectStorage)
	}
	return append(out, suspectGauge, suspectArea)
}

// whereTo names the faults that take water out of a balance.
func (in *Input) whereTo() []string {
	out := make([]string, 0, 5)
	if in.bounded() {
		out = append(out, suspectJar)
	}
	if in.Drainage.DepthMM <= 2*in.Drainage.UMM {
		out = append(out, suspectDebris)
	}
	return append(out, suspectFunnel, suspectStorage, suspectGauge, suspectArea)
}

// Compare returns the verdicts of the plots of one run with what they say of each other.
// The gauge is common to all of them: where at least two plots were judged and
// all are wrong the same way, it is the first suspect, and area and funnel of each single
// plot go; where at least one is fine, the gauge goes.
func Compare(run []Verdict) []Verdict {
	var wrong [3]int
	judged := 0
	for _, v := range run {
		if v.Judged {
			judged++
			wrong[v.Sign-MoreOut]++
		}
	}
	out := make([]Verdict, len(run))
	for i, v := range run {
		out[i] = v
		if judged < 2 || v.Sign == Fine {
			continue
		}
		switch {
		case wrong[v.Sign-MoreOut] == judged:
			out[i].suspects = append([]string{suspectGauge}, without(v.suspects, suspectGauge, suspectArea, suspectFunnel)...)
		case wrong[Fine-MoreOut] > 0:
			out[i].suspects = without(v.suspects, suspectGauge)
		}
	}
	return out
}

func without(words []string, drop ...string) []string {
	out := make([]string, 0, len(words))
	for _, w := range words {
		keep := true
		for _, d := range drop {
			keep = keep && w != d
		}
		if keep {
			out = append(out, w)
		}
	}
	return out
}

// Judge returns the balance with another verdict, such as that of Compare: its flags
// take the place of the plot's own.
func (b *Balance) Judge(v Verdict) Balance {
	out := *b
	out.Verdict = v
	old := b.Verdict.Words()
	for _, e := range []*[]string{(*[]string)(&out.Closure.Flags), (*[]string)(&out.Residual.Flags)} {
		had := len(without(*e, moreOut, waterMissing)) < len(*e)
		*e = without(*e, old...)
		if had {
			*e = append(*e, v.Words()...)
		}
	}
	return out
}
