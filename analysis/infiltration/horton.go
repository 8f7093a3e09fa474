package infiltration

import (
	"errors"
	"fmt"
	"math"
)

// ErrModel is returned for parameters with which a model has no meaning.
var ErrModel = errors.New("infiltration model")

// Horton is the capacity curve
//
//	f = FC + (F0 - FC) exp(-K t)
//
// with t the time since ponding. Units are the caller's, consistently: rates in
// mm/h with K in 1/h and times in h give depths in mm.
//
// Source: Horton 1940, Soil Sci. Soc. Am. Proc. 5:399-417.
type Horton struct{ F0, FC, K float64 }

func (h Horton) check() error {
	if !(h.F0 >= h.FC) || !(h.FC >= 0) || !(h.K > 0) || math.IsInf(h.F0, 0) || math.IsInf(h.K, 0) {
		return fmt.Errorf("%w: Horton with f0 %v, fc %v, k %v; need f0 >= fc >= 0 and k > 0", ErrModel, h.F0, h.FC, h.K)
	}
	return nil
}

// Rate returns the capacity at time t.
func (h Horton) Rate(t float64) (float64, error) {
	if err := h.check(); err != nil {
		return 0, err
	}
	return h.FC + (h.F0-h.FC)*math.Exp(-h.K*t), nil
}

// Depth returns the depth that a ponded surface takes in between two times,
//
//	F = FC (t2 - t1) + (F0 - FC) (exp(-K t1) - exp(-K t2)) / K.
func (h Horton) Depth(t1, t2 float64) (float64, error) {
	if err := h.check(); err != nil {
		return 0, err
	}
	return h.FC*(t2-t1) + (h.F0-h.FC)*math.Exp(-h.K*t1)*-math.Expm1(-h.K*(t2-t1))/h.K, nil
}

// PondingDepth returns the depth that has infiltrated when the surface ponds
// under a constant intensity i,
//
//	Fp = (F0 - i)/K + (FC/K) ln((F0 - FC)/(i - FC)),
//
// the depth at which the capacity of the ponded curve has fallen to i (time
// compression). It is 0 for i >= F0; there is no ponding, and an error, for
// i <= FC.
func (h Horton) PondingDepth(i float64) (float64, error) {
	if err := h.check(); err != nil {
		return 0, err
	}
	if !(i > h.FC) {
		return 0, fmt.Errorf("%w: no ponding at intensity %v, which the soil can take for ever (fc %v)", ErrModel, i, h.FC)
	}
	if i >= h.F0 {
		return 0, nil
	}
	return (h.F0-i)/h.K + h.FC/h.K*math.Log((h.F0-h.FC)/(i-h.FC)), nil
}
