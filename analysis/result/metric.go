package result

import "strings"

// Metric is the stable identifier of a quantity that the program reports.
type Metric string

// The metrics of plots. Those of later stages join here with their methods.
const (
	TimeToRunoff           Metric = "time_to_runoff"
	TimeToPonding          Metric = "time_to_ponding"
	SteadyInfiltrationRate Metric = "steady_infiltration_rate"
	Sorptivity             Metric = "sorptivity"
	FinalRunoffRate        Metric = "final_runoff_rate"
	PeakRunoffRate         Metric = "peak_runoff_rate"
	RainDepth              Metric = "rain_depth"
	RunoffDepth            Metric = "runoff_depth"
	InfiltrationDepth      Metric = "infiltration_depth"
	DrainageDepth          Metric = "drainage_depth"
	StorageDepth           Metric = "storage_depth"
	BalanceClosure         Metric = "balance_closure"
	RainDepthToRunoff      Metric = "rain_depth_to_runoff"
	CurveNumber            Metric = "curve_number"
	PhiIndex               Metric = "phi_index"
	WIndex                 Metric = "w_index"
	RunoffCoefficient      Metric = "runoff_coefficient"
	SedimentConcentration  Metric = "sediment_concentration"
	SedimentMass           Metric = "sediment_mass"
	SoilLoss               Metric = "soil_loss"
	SedimentRate           Metric = "sediment_rate"
	SedimentFluxExponent   Metric = "sediment_flux_exponent"
	InterrillErodibility   Metric = "interrill_erodibility"
	SoilLossRatio          Metric = "soil_loss_ratio"
	CoverExponent          Metric = "cover_exponent"
	KineticEnergy          Metric = "kinetic_energy"
	Erosivity              Metric = "erosivity"
	Intensity              Metric = "intensity"
	UniformityChristiansen Metric = "uniformity_christiansen"
	UniformityLowQuarter   Metric = "uniformity_low_quarter"
	CoefficientOfVariation Metric = "coefficient_of_variation"
	Discharge              Metric = "discharge"
	IntensityDrift         Metric = "intensity_drift"
)

// Kind says how replicates of a metric are summarised.
type Kind uint8

// Plain values get a mean with a t interval; Skewed ones (positive, log-normal
// between plots) a geometric mean; TimeToEvent ones are censored data.
const (
	Plain Kind = iota
	Skewed
	TimeToEvent
)

// MetricInfo is a row of the catalogue of metrics.
type MetricInfo struct {
	ID         Metric
	Name       string // for people
	SI, US     string // UCUM unit codes
	Kind       Kind
	Of         string // plot or calibration
	Definition string
}

// Catalogue lists every metric in the order in which result tables hold them.
func Catalogue() []MetricInfo { return catalogue }

var catalogue = []MetricInfo{
	{TimeToRunoff, "time to runoff", "min", "min", TimeToEvent, "plot", "time from the start of rain to the first sustained runoff; right-censored at the end of rain where there was none"},
	{TimeToPonding, "time to ponding", "min", "min", TimeToEvent, "plot", "observed time from the start of rain to standing water"},
	{SteadyInfiltrationRate, "steady infiltration rate", "mm/h", "[in_i]/h", Plain, "plot", "infiltration capacity at the end of rain, with a verdict whether it has settled"},
	{Sorptivity, "sorptivity", "mm/h^0.5", "mm/h^0.5", Plain, "plot", "what the soil takes in by suction: the first coefficient of Philip's two-term model, where the infiltration models are fitted"},
	{FinalRunoffRate, "final runoff rate", "mm/h", "[in_i]/h", Plain, "plot", "mean runoff rate of the last bottles that end by the end of rain"},
	{PeakRunoffRate, "peak runoff rate", "mm/h", "[in_i]/h", Plain, "plot", "largest mean runoff rate over one interval"},
	{RainDepth, "rain depth", "mm", "[in_i]", Plain, "plot", "intensity times rain duration at the plot's position"},
	{RunoffDepth, "runoff depth", "mm", "[in_i]", Plain, "plot", "runoff volume over plot area, gaps interpolated, through the recession where it was caught"},
	{InfiltrationDepth, "infiltration depth", "mm", "[in_i]", Plain, "plot", "rain depth minus runoff depth, storage on the surface included"},
	{DrainageDepth, "drainage depth", "mm", "[in_i]", Plain, "plot", "drainage volume over plot area"},
	{StorageDepth, "storage depth", "mm", "[in_i]", Plain, "plot", "gain of water in the soil: measured, or rain minus runoff, drainage and losses, which holds every error as well"},
	{BalanceClosure, "balance closure", "mm", "[in_i]", Plain, "plot", "rain minus runoff, drainage, measured storage and losses: the water that is not accounted for"},
	{RunoffCoefficient, "runoff coefficient", "1", "1", Plain, "plot", "runoff depth over rain depth"},
	{RainDepthToRunoff, "rain depth to runoff", "mm", "[in_i]", TimeToEvent, "plot", "rain that fell before the first sustained runoff; right-censored where there was none"},
	{CurveNumber, "curve number", "1", "1", Plain, "plot", "curve number of the plot's rain and runoff, initial abstraction 0.20 of the retention"},
	{PhiIndex, "phi index", "mm/h", "[in_i]/h", Plain, "plot", "constant loss rate whose excess is the runoff, of a rain that varied"},
	{WIndex, "W index", "mm/h", "[in_i]/h", Plain, "plot", "mean loss rate over the rain, of a rain that varied"},
	{SedimentConcentration, "sediment concentration", "g/L", "g/L", Skewed, "plot", "flow-weighted: dry sediment mass over volume of suspension"},
	{SedimentMass, "sediment mass", "g", "[oz_av]", Skewed, "plot", "dry sediment carried off the plot by runoff"},
	{SoilLoss, "soil loss", "g/m2", "[ston_av]/[acr_us]", Skewed, "plot", "sediment mass over plot area"},
	{SedimentRate, "sediment rate", "g/(m2.h)", "g/(m2.h)", Skewed, "plot", "soil loss over the duration of runoff"},
	{SedimentFluxExponent, "sediment flux exponent", "1", "1", Plain, "plot", "exponent of sediment flux against runoff rate over the plot's intervals"},
	{InterrillErodibility, "interrill erodibility", "kg.s/m4", "kg.s/m4", Skewed, "plot", "late detachment rate over intensity squared and slope factor"},
	{SoilLossRatio, "soil loss ratio", "1", "1", Skewed, "plot", "soil loss over the mean soil loss of the bare plots under the same run"},
	{CoverExponent, "cover exponent", "1/%", "1/%", Plain, "plot", "minus logarithm of the soil loss ratio over the difference in cover"},
	{KineticEnergy, "kinetic energy", "J/m2", "J/m2", Plain, "plot", "energy of the falling drops per plot area over the rain: of the simulator's drops where they were measured, else what natural rain of that intensity would bring"},
	{Erosivity, "erosivity", "MJ.mm/(ha.h)", "MJ.mm/(ha.h)", Plain, "plot", "kinetic energy times the largest mean intensity over 30 min"},
	{Intensity, "intensity", "mm/h", "[in_i]/h", Plain, "calibration", "spatial mean depth caught over the duration of the catch"},
	{UniformityChristiansen, "Christiansen uniformity", "%", "%", Plain, "calibration", "100 (1 - mean absolute deviation / mean) of the catch"},
	{UniformityLowQuarter, "low-quarter uniformity", "%", "%", Plain, "calibration", "mean of the lowest quarter of the catch over its mean"},
	{CoefficientOfVariation, "coefficient of variation", "1", "1", Plain, "calibration", "standard deviation (n-1) over mean of the catch"},
	{Discharge, "discharge", "L/min", "[gal_us]/min", Plain, "calibration", "flow of the simulator's nozzles at the pressure of the catch, from the profile's by the square root of the pressures"},
	{IntensityDrift, "intensity drift", "mm/h", "[in_i]/h", Plain, "calibration", "intensity minus the mean of all dated calibrations of the simulator; the interval is that of the control chart"},
}

// analytePrefix begins the metrics of analytes, which no catalogue can name.
const analytePrefix = "analyte_"

// AnalyteLoad is the metric of the load of an analyte in the runoff of a plot,
// analyte_NAME_load.
func AnalyteLoad(name string) Metric { return Metric(analytePrefix + name + "_load") }

// AnalyteConcentration is the metric of the flow-weighted concentration of an analyte,
// analyte_NAME_concentration.
func AnalyteConcentration(name string) Metric { return Metric(analytePrefix + name + "_concentration") }

// IsAnalyte reports whether a metric is that of an analyte.
func IsAnalyte(m Metric) bool { return strings.HasPrefix(string(m), analytePrefix) }

// AnalyteInfo returns what a row of the catalogue would say of the metric of an
// analyte whose values have a unit, and false for other metrics. A concentration by mass and its load are
// positive and skewed between plots, as sediment is; of what has another unit nothing is known.
func AnalyteInfo(m Metric, unit string) (MetricInfo, bool) {
	name, found := strings.CutPrefix(string(m), analytePrefix)
	info := MetricInfo{ID: m, SI: unit, US: unit, Of: "plot"}
	switch {
	case !found:
		return MetricInfo{}, false
	case strings.HasSuffix(name, "_load"):
		info.Name, info.Definition = strings.TrimSuffix(name, "_load")+" load", "concentration times volume over the bottles of runoff, gaps interpolated"
	case strings.HasSuffix(name, "_concentration"):
		info.Name, info.Definition = strings.TrimSuffix(name, "_concentration")+" concentration", "flow-weighted: load over volume of suspension"
	default:
		return MetricInfo{}, false
	}
	if unit == "mg/L" || unit == "mg" {
		info.Kind = Skewed
	}
	return info, true
}

// Info returns the catalogue's row of a metric and whether there is one.
func (m Metric) Info() (MetricInfo, bool) {
	for _, i := range catalogue {
		if i.ID == m {
			return i, true
		}
	}
	return MetricInfo{}, false
}
