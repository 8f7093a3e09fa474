package batch

import (
	"sheetwash/analysis/derivation"
	"sheetwash/api/report"
)

// InUnits puts a node above a tree whose value has another unit in the system.
func InUnits(n derivation.Node, units report.Units) (derivation.Node, error) {
	if n.Value == nil {
		return n, nil
	}
	v, unit, err := units.Convert(*n.Value, n.Unit)
	if err != nil || unit == n.Unit {
		return n, err
	}
	factor, _, err := units.Convert(1, n.Unit)
	if err != nil {
		return n, err
	}
	out := n
	canonical := n
	canonical.Key, canonical.Flags, canonical.Data, canonical.Program, canonical.Beside, canonical.Budget = "", nil, nil, "", nil, nil
	out.Value, out.Unit = &v, unit
	for _, p := range []**float64{&out.U, &out.Low, &out.High} {
		if *p != nil {
			scaled := **p * factor
			*p = &scaled
		}
	}
	out.Equation, out.Operation, out.Fit, out.LeftOut, out.From, out.Note, out.See = "value * factor", "", nil, nil, nil, "", ""
	out.Inputs = []derivation.Node{canonical.Named("value"), derivation.Setting("factor", factor, unit+" per "+n.Unit, "conversion of the unit")}
	return out, out.Check()
}
