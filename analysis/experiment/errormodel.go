package experiment

// ErrorModel holds the standard uncertainties of the readings that everything
// is computed from. Its zero value means exact readings; DefaultErrors returns
// what is assumed unless analysis.yaml or a flag says otherwise.
//
// Readings of different bottles have independent errors. Area and intensity are
// shared by all bottles of a plot, intensity by all plots of a run as well: such
// an error does not shrink with the number of bottles or plots. Of the rest the methods say what shares it.
type ErrorModel struct {
	VolumeRel    float64 // of a volume reading, relative
	VolumeML     float64 // of a volume reading, absolute, mL; in quadrature with VolumeRel
	MassG        float64 // of a gross or a tare mass, g
	SedimentG    float64 // of a dry sediment mass, g
	BottleChange float64 // of each end of a bottle's interval, min
	OnsetMin     float64 // of an observed onset, min
	AreaRel      float64 // of the area, relative
	IntensityRel float64 // of an intensity that was not measured by cans, relative

	Slope        float64 // of a measured slope, rise over run; a class has its own
	CoverPoints  float64 // points that a cover was counted at; 0: the cover is exact
	AnalyteRel   float64 // of a laboratory's concentration, common to all bottles, relative
	DissolvedRel float64 // of the dissolved solids of supply water, relative
	SupplyC      float64 // of the supply's temperature as that of the water in the soil, Cel

	SoilMassG      float64 // of a tray with its soil, g
	GravimetricPct float64 // of a gravimetric water content, % of dry mass
	VolumetricPct  float64 // of a volumetric water content, %
	SoilWaterPct   float64 // of the difference of two readings of one soil water sensor, %
	BulkDensityRel float64
	SoilDepthRel   float64
	EdgeLossRel    float64
	SplashRel      float64 // of the splash that was caught, beside the reading's own error
}

// Uncertainty is one number of an error model, by the name that analysis.yaml,
// flags and requests give it.
type Uncertainty struct {
	Name    string
	Scale   float64 // inside units in one of the name's
	Most    float64 // largest number that is taken, in the name's unit
	Default float64 // in the name's unit
	Of      func(*ErrorModel) *float64
}

// Uncertainties lists the numbers of an error model: those of the results contract first, in its order. The
// caller must not write to it.
//
// The defaults are common practice, without a published source, but for these: a slope is
// read to a quarter of a degree on either side of a clinometer, rectangular, 0.44 % / sqrt(3) = 0.25 %; a
// cover is a count at 100 points of a line transect, whose error is binomial; the temperature of supply water is
// within 2 Cel that of the water in the soil.
func Uncertainties() []Uncertainty { return uncertainties }

var uncertainties = []Uncertainty{
	{"volume_rel", 1, 1, 0.005, func(m *ErrorModel) *float64 { return &m.VolumeRel }},
	{"volume_ml", 1, 1e6, 2, func(m *ErrorModel) *float64 { return &m.VolumeML }},
	{"mass_g", 1, 1e6, 0.1, func(m *ErrorModel) *float64 { return &m.MassG }},
	{"sediment_g", 1, 1e6, 0.01, func(m *ErrorModel) *float64 { return &m.SedimentG }},
	{"bottle_change_s", 1.0 / 60, 3600, 1, func(m *ErrorModel) *float64 { return &m.BottleChange }},
	{"onset_s", 1.0 / 60, 3600, 5, func(m *ErrorModel) *float64 { return &m.OnsetMin }},
	{"area_rel", 1, 1, 0.005, func(m *ErrorModel) *float64 { return &m.AreaRel }},
	{"intensity_rel", 1, 1, 0.03, func(m *ErrorModel) *float64 { return &m.IntensityRel }},

	{"slope_pct", 0.01, 100, 0.25, func(m *ErrorModel) *float64 { return &m.Slope }},
	{"cover_points", 1, 1e6, 100, func(m *ErrorModel) *float64 { return &m.CoverPoints }},
	{"analyte_rel", 1, 1, 0.05, func(m *ErrorModel) *float64 { return &m.AnalyteRel }},
	{"dissolved_rel", 1, 1, 0.1, func(m *ErrorModel) *float64 { return &m.DissolvedRel }},
	{"supply_temperature_cel", 1, 50, 2, func(m *ErrorModel) *float64 { return &m.SupplyC }},

	{"soil_mass_g", 1, 1e6, 10, func(m *ErrorModel) *float64 { return &m.SoilMassG }},
	{"gravimetric_pct", 1, 100, 1, func(m *ErrorModel) *float64 { return &m.GravimetricPct }},
	{"volumetric_pct", 1, 100, 2, func(m *ErrorModel) *float64 { return &m.VolumetricPct }},
	{"soil_water_pct", 1, 100, 1, func(m *ErrorModel) *float64 { return &m.SoilWaterPct }},
	{"bulk_density_rel", 1, 1, 0.05, func(m *ErrorModel) *float64 { return &m.BulkDensityRel }},
	{"soil_depth_rel", 1, 1, 0.03, func(m *ErrorModel) *float64 { return &m.SoilDepthRel }},
	{"edge_loss_rel", 1, 1, 0.2, func(m *ErrorModel) *float64 { return &m.EdgeLossRel }},
	{"splash_rel", 1, 1, 0.05, func(m *ErrorModel) *float64 { return &m.SplashRel }},
}

// DefaultErrors returns the defaults of Uncertainties.
func DefaultErrors() ErrorModel {
	var m ErrorModel
	for _, u := range uncertainties {
		*u.Of(&m) = u.Default * u.Scale
	}
	return m
}
