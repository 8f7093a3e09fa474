package rig

import (
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
)

// Default returns the profile that stands for a simulator without one. It knows
// nothing of the simulator: no band of pressure, no tank, no positions, no slope
// classes, no confirmation of level. It holds what is common to all of them:
//
//   - residue of crops (straw, stubble, residue, stover) does not suit meadow,
//     pasture, grass or lawn, and a cover of sod not a field of row crops;
//   - the first bottle begins within 1 min of the noted start of runoff, and
//     where none was noted its rate is below 20 % of the plot's largest.
//
// Common practice, no published source; docs/findings.md states it.
func Default() experiment.Rig {
	return experiment.Rig{
		Cover: []experiment.CoverRule{
			{LandUse: []string{"meadow", "pasture", "grass", "lawn"}, Unsuited: []string{"straw", "stubble", "residue", "stover"}},
			{LandUse: []string{"arable", "row crop"}, Unsuited: []string{"sod", "turf"}},
		},
		FirstBottle: experiment.FirstBottle{WithinMin: quantity.Some(1), Share: quantity.Some(0.2)},
	}
}
