package result

// Metric is the stable identifier of a quantity that the program reports.
type Metric string

// The metrics of plots. Those of later stages join here with their methods.
const (
	TimeToRunoff           Metric = "time_to_runoff"
	TimeToPonding          Metric = "time_to_ponding"
	SteadyInfiltrationRate Metric = "steady_infiltration_rate"
	FinalRunoffRate        Metric = "final_runoff_rate"
	PeakRunoffRate         Metric = "peak_runoff_rate"
	RainDepth              Metric = "rain_depth"
	RunoffDepth            Metric = "runoff_depth"
	InfiltrationDepth      Metric = "infiltration_depth"
	DrainageDepth          Metric = "drainage_depth"
	RunoffCoefficient      Metric = "runoff_coefficient"
	SedimentConcentration  Metric = "sediment_concentration"
	SedimentMass           Metric = "sediment_mass"
	SoilLoss               Metric = "soil_loss"
	SedimentRate           Metric = "sediment_rate"
	Intensity              Metric = "intensity"
	UniformityChristiansen Metric = "uniformity_christiansen"
	UniformityLowQuarter   Metric = "uniformity_low_quarter"
	CoefficientOfVariation Metric = "coefficient_of_variation"
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
	{FinalRunoffRate, "final runoff rate", "mm/h", "[in_i]/h", Plain, "plot", "mean runoff rate of the last bottles that end by the end of rain"},
	{PeakRunoffRate, "peak runoff rate", "mm/h", "[in_i]/h", Plain, "plot", "largest mean runoff rate over one interval"},
	{RainDepth, "rain depth", "mm", "[in_i]", Plain, "plot", "intensity times rain duration at the plot's position"},
	{RunoffDepth, "runoff depth", "mm", "[in_i]", Plain, "plot", "runoff volume over plot area, gaps interpolated, through the recession where it was caught"},
	{InfiltrationDepth, "infiltration depth", "mm", "[in_i]", Plain, "plot", "rain depth minus runoff depth, storage on the surface included"},
	{DrainageDepth, "drainage depth", "mm", "[in_i]", Plain, "plot", "drainage volume over plot area"},
	{RunoffCoefficient, "runoff coefficient", "1", "1", Plain, "plot", "runoff depth over rain depth"},
	{SedimentConcentration, "sediment concentration", "g/L", "g/L", Skewed, "plot", "flow-weighted: dry sediment mass over volume of suspension"},
	{SedimentMass, "sediment mass", "g", "[oz_av]", Skewed, "plot", "dry sediment carried off the plot by runoff"},
	{SoilLoss, "soil loss", "g/m2", "[ston_av]/[acr_us]", Skewed, "plot", "sediment mass over plot area"},
	{SedimentRate, "sediment rate", "g/(m2.h)", "g/(m2.h)", Skewed, "plot", "soil loss over the duration of runoff"},
	{Intensity, "intensity", "mm/h", "[in_i]/h", Plain, "calibration", "spatial mean depth caught over the duration of the catch"},
	{UniformityChristiansen, "Christiansen uniformity", "%", "%", Plain, "calibration", "100 (1 - mean absolute deviation / mean) of the catch"},
	{UniformityLowQuarter, "low-quarter uniformity", "%", "%", Plain, "calibration", "mean of the lowest quarter of the catch over its mean"},
	{CoefficientOfVariation, "coefficient of variation", "1", "1", Plain, "calibration", "standard deviation (n-1) over mean of the catch"},
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
