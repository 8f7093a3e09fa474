package experiment

// ErrorModel holds the standard uncertainties of the readings that everything
// is computed from. Its zero value means exact readings; DefaultErrors returns
// what is assumed unless analysis.yaml or a flag says otherwise.
//
// Readings of different bottles have independent errors. Area and intensity are
// shared by all bottles of a plot, intensity by all plots of a run as well: such
// an error does not shrink with the number of bottles or plots.
type ErrorModel struct {
	VolumeRel    float64 // of a volume reading, relative
	VolumeML     float64 // of a volume reading, absolute, mL; in quadrature with VolumeRel
	MassG        float64 // of a gross or a tare mass, g
	SedimentG    float64 // of a dry sediment mass, g
	BottleChange float64 // of each end of a bottle's interval, min
	OnsetMin     float64 // of an observed onset, min
	AreaRel      float64 // of the area, relative
	IntensityRel float64 // of an intensity that was not measured by cans, relative
}

// DefaultErrors returns the defaults of the results contract: volume 0.5 % and
// 2 mL, mass 0.1 g, dry sediment 0.01 g, bottle change 1 s at each end, observed
// onset 5 s, area 0.5 %, intensity 3 %. Common practice, no published source.
func DefaultErrors() ErrorModel {
	return ErrorModel{
		VolumeRel: 0.005, VolumeML: 2, MassG: 0.1, SedimentG: 0.01,
		BottleChange: 1.0 / 60, OnsetMin: 5.0 / 60, AreaRel: 0.005, IntensityRel: 0.03,
	}
}
