package experiment

import "sheetwash/analysis/quantity"

// Rig is what the data say of the simulator in use: the bands and sizes of its
// profile. What a profile does not name is missing, and no rule is built on it.
type Rig struct {
	Simulator string // as in runs.simulator; "": any simulator of the dataset
	Nozzles   int    // that spray at a time; 0: not given
	// NozzleLMin is the discharge of one nozzle at NozzleKPa.
	NozzleLMin, NozzleKPa quantity.Optional
	PressureLow           quantity.Optional // band at the gauge, kPa
	PressureHigh          quantity.Optional
	FallHeightM           quantity.Optional // from nozzle to plot
	// NozzleSpeedMS is the speed of drops at the nozzle, where it was measured;
	// else the speed without loss at the run's pressure stands for it.
	NozzleSpeedMS quantity.Optional
	TrayShare     quantity.Optional // share of the discharge that the trays return to the tank
	TankL, HeelL  quantity.Optional // volume of the tank, and what the pump cannot draw
	Plots         int               // how many lie under it; 0: not given
	Positions     []string
	ConfirmLevel  bool // every run has to say that the table was levelled
	SlopeClasses  []SlopeClass
	Drops         *DropTable // nil: its drops were not measured
	UEnergyRel    quantity.Optional
	// RepeatabilityRel is the standard deviation of the intensity between set-ups,
	// relative; it goes before that of the calibrations.
	RepeatabilityRel quantity.Optional
	Cover            []CoverRule
	FirstBottle      FirstBottle
	Place            Place
}

// SlopeClass is one class of the crew: From <= slope < To, rise over run; the
// last class of a profile includes its upper bound.
type SlopeClass struct {
	Name     string
	From, To float64
}

// CoverRule names kinds of cover that do not suit a use of the land. A kind is
// met by a word that contains it.
type CoverRule struct{ LandUse, Unsuited []string }

// FirstBottle bounds how late the first bottle of a plot may begin.
type FirstBottle struct {
	WithinMin quantity.Optional // after the noted start of runoff
	Share     quantity.Optional // where no start was noted: of the plot's largest rate
}

// DropTable is a measured distribution of drop sizes: how many drops fell in
// each class of diameter, or how many there are in the air.
type DropTable struct {
	Concentration bool // values are 1/(m3 mm) in the air; else counts of fallen drops
	Classes       []DropClass
}

// DropClass is one class of diameter.
type DropClass struct {
	FromMM, ToMM float64
	Value        float64
	SpeedMS      quantity.Optional // measured; else from the fall
}
