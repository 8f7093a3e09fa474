package experiment

import (
	"time"

	"sheetwash/analysis/quantity"
)

// Place is where a record stands in the input, for derivations and findings.
type Place struct {
	File string // path below the dataset
	Row  int64  // as a spreadsheet counts (header = 1); first record = 1 in Arrow and Parquet
}

// Run is one application of rain. One or more plots lie under it.
type Run struct {
	ID, Event, Season, Site, Crew, Simulator string
	Sequence                                 string    // dry, wet or the number of the run on the same soil; "": not given
	Started                                  time.Time // start of rain; zero: not given
	IntensityMMH                             quantity.Optional
	RainMin                                  float64 // rain on until rain off, > 0
	PressureKPa                              quantity.Optional
	WaterTempC                               quantity.Optional
	DissolvedGL                              quantity.Optional // left by the supply water when it is evaporated, g/L; to be taken off dried masses
	WaterSource, Note                        string
	Indoor, SubtractBlank                    bool
	Plots                                    []Plot
	Blanks                                   []Sample // filter or dish blanks of the run
	Series                                   []Series // logger channels that belong to the run, not to a plot (rain, pressure)
	Place                                    Place
}

// Onset says what was noted about the first sustained runoff of a plot.
type Onset uint8

// What can be known of the first runoff.
const (
	OnsetNotNoted Onset = iota // nobody looked, or nobody wrote it down
	OnsetNoted                 // OnsetMin holds the observed time
	OnsetNone                  // looked for, and none by the end of rain
)

// Plot is one plot under one run: the experimental unit.
type Plot struct {
	ID, Treatment             string
	Replicate, Position       string
	Block                     string            // "": not given, the run stands in
	ExperimentalUnit          string            // body of soil; "": the plot of this run alone
	AreaM2                    float64           // horizontal projection, > 0
	IntensityMMH              quantity.Optional // measured at this position
	Slope                     quantity.Optional // rise over run, 0.05 = 5 %
	USlope                    float64           // standard uncertainty of Slope from a slope class; 0: measured
	CoverPct, InitialWaterPct quantity.Optional
	CoverKind, LandUse, Soil  string
	Onset                     Onset
	OnsetMin                  float64 // valid with OnsetNoted
	PondingMin                quantity.Optional
	Storage                   *SoilWaterGain // nil: nothing was measured
	Exclude                   bool
	ExcludeReason             string
	Covariates                []Covariate
	Samples                   []Sample // streams other than blank, ordered by stream, start, end
	Series                    []Series // logger channels of this plot
	Place                     Place
}

// SoilWaterGain is what was measured of the water that a plot's soil gained, and
// of what left it over its edges. It may hold several measurements of one gain.
type SoilWaterGain struct {
	FinalWaterPct                             quantity.Optional // volumetric, after the run; before it: Plot.InitialWaterPct
	SoilDepthMM                               quantity.Optional // that the water contents stand for
	GravimetricBeforePct, GravimetricAfterPct quantity.Optional // water over dry soil by mass
	BulkDensityGCM3                           quantity.Optional // dry
	SoilBeforeG, SoilAfterG                   quantity.Optional // tray with its soil
	EdgeLossML                                quantity.Optional
}

// Covariate is a column of the plots table that the data dictionary does not name.
type Covariate struct{ Name, Value string }

// Stream says where the water or sediment of a sample came from.
type Stream uint8

// The streams of the data dictionary.
const (
	Runoff Stream = iota
	Drainage
	Splash
	Blank
	Remainder
)

// streamNames holds the words of the data dictionary, indexed by Stream.
var streamNames = [...]string{"runoff", "drainage", "splash", "blank", "remainder"}

// String returns the word of the data dictionary.
func (s Stream) String() string { return streamNames[s] }

// ParseStream returns the stream of a word of the data dictionary.
func ParseStream(word string) (Stream, bool) {
	for i, n := range streamNames {
		if n == word {
			return Stream(i), true
		}
	}
	return 0, false
}

// Flag is the remark on a bottle.
type Flag uint8

// The flags of the data dictionary. Overflow, Spilled and Leak make the volume
// a lower bound; Lost means that the interval is known and the volume is not;
// Trace means wet but too little to measure.
const (
	FlagOK Flag = iota
	FlagOverflow
	FlagSpilled
	FlagLost
	FlagLeak
	FlagTrace
)

var flagNames = [...]string{"ok", "overflow", "spilled", "lost", "leak", "trace"}

// String returns the word of the data dictionary.
func (f Flag) String() string { return flagNames[f] }

// LowerBound reports whether the volume of such a bottle is a lower bound.
func (f Flag) LowerBound() bool { return f == FlagOverflow || f == FlagSpilled || f == FlagLeak }

// ParseFlag returns the flag of a word of the data dictionary.
func ParseFlag(word string) (Flag, bool) {
	for i, n := range flagNames {
		if n == word {
			return Flag(i), true
		}
	}
	return 0, false
}

// Sample is one bottle or timed catch. A row may carry water, sediment or both:
// sediment is often pooled over several bottles, and then its sample spans them.
// Of the readings, exactly what was in the file is present.
type Sample struct {
	Stream           Stream
	Flag             Flag
	StartMin, EndMin float64           // interval of collection; both 0 for blank and remainder without times
	VolumeML         quantity.Optional // of the suspension, as read
	GrossG, TareG    quantity.Optional // of the full and the empty bottle
	SedimentG        quantity.Optional // oven-dry, as stated
	SedimentGrossG   quantity.Optional // dish or filter with dry sediment
	SedimentTareG    quantity.Optional
	ConcentrationGL  quantity.Optional // of the suspension, as stated
	WaterTempC       quantity.Optional // of this bottle; else the run's
	TurbidityNTU     quantity.Optional
	Analytes         []Analyte
	Exclude          bool
	ExcludeReason    string
	SedimentPending  bool // a sediment column exists in the dataset and this row's cell is empty
	Place            Place
}

// RatingPairs is the number of bottles with both turbidity and sediment below
// which there is no rating of turbidity: with fewer the interval of a prediction
// is wider than a guess would be.
const RatingPairs = 6

// Analyte is one more concentration measured on a bottle.
type Analyte struct {
	Name  string // without the analyte_ prefix
	Value float64
	Unit  string // as declared
}

// Can is one catch can of a calibration.
type Can struct {
	Calibration, Simulator, Position string
	Date                             time.Time // zero: not given
	XCM, YCM                         quantity.Optional
	DepthMM                          float64 // caught, >= 0
	DurationMin                      float64 // > 0
	PressureKPa                      quantity.Optional
	Place                            Place
}

// Channel is what a logger measures.
type Channel uint8

// The channels of the data dictionary.
const (
	RunoffMass Channel = iota
	RunoffVolume
	DrainageMass
	DrainageVolume
	RunoffRate
	DrainageRate
	RainRate
	RainDepth
	Concentration
	Pressure
	SoilWater
	Turbidity
	WaterTemperature
	channels // how many
)

var channelNames = [channels]string{
	"runoff_mass", "runoff_volume", "drainage_mass", "drainage_volume",
	"runoff_rate", "drainage_rate", "rain_rate", "rain_depth",
	"concentration", "pressure", "soil_water", "turbidity", "water_temperature",
}

// String returns the word of the data dictionary.
func (c Channel) String() string { return channelNames[c] }

// Cumulative reports whether the channel's values add up over the run, so that
// its rate is a slope and not a mean.
func (c Channel) Cumulative() bool { return c <= DrainageVolume || c == RainDepth }

// ParseChannel returns the channel of a word of the data dictionary.
func ParseChannel(word string) (Channel, bool) {
	for i, n := range channelNames {
		if n == word {
			return Channel(i), true
		}
	}
	return 0, false
}

// Channels returns all channels in their fixed order.
func Channels() []Channel {
	out := make([]Channel, channels)
	for i := range out {
		out[i] = Channel(i)
	}
	return out
}

// Series is one logger channel reduced to time bins, from which least-squares
// slopes and means over any whole number of bins follow exactly.
//
// Values are in the channel's canonical unit: g, mL, mm/h (rates given as
// depth per time), mL/min (rates given as volume per time, VolumeRate set), mm,
// g/L, kPa, %, NTU, Cel.
type Series struct {
	Channel           Channel
	VolumeRate        bool    // a rate channel in mL/min of the whole plot instead of mm/h
	BinMin            float64 // width of a bin, min
	Bins              []Bin   // non-empty bins by ascending Index
	N                 int64   // readings in all
	FirstMin, LastMin float64 // times of the first and the last reading
	First, Last       float64 // their values
	Place             Place   // of the first reading in time
}

// Bin holds the sums of the readings of one bin. Times are minutes from the
// bin's start, Index * BinMin.
type Bin struct {
	Index                    int32
	N                        int32
	SumT, SumV, SumTT, SumTV float64
}
