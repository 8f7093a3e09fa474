package units

import "strings"

// trade lists the spellings of the trade behind the UCUM code that they stand
// for, separated by blanks and in lower case unless case tells them apart. A
// spelling that stands behind several codes is told by the dimension expected.
var trade = []struct {
	code   string
	note   *Note
	listed string
}{
	{"mm", nil, "mm millimeter millimeters millimetre millimetres"},
	{"cm", nil, "cm centimeter centimeters centimetre centimetres"},
	{"m", nil, "m meter meters metre metres"},
	{"[in_i]", nil, `in inch inches "`},
	{"[ft_i]", nil, "ft foot feet '"},
	{"[yd_i]", nil, "yd yard yards"},
	{"um", nil, "um micron microns"},

	{"m2", nil, "sqm"},
	{"cm2", nil, "sqcm"},
	{"mm2", nil, "sqmm"},
	{"[sin_i]", nil, "sqin"},
	{"[sft_i]", nil, "sqft"},
	{"[syd_i]", nil, "sqyd"},
	{"[acr_us]", nil, "ac acre acres"},
	{"har", nil, "ha hectare hectares"},

	{"L", nil, "l liter liters litre litres ltr"},
	{"mL", nil, "ml milliliter milliliters millilitre millilitres cc ccm"},
	{"uL", nil, "ul"},
	{"m3", nil, "cum cbm"},
	{"[cft_i]", nil, "cuft cf"},
	{"[cin_i]", nil, "cuin"},
	{"[gal_us]", &usGallon, "gal gals gallon gallons"},
	{"[gal_us]", nil, "usgal"},
	{"[gal_br]", nil, "impgal ukgal"},
	{"[qt_us]", &usGallon, "qt quart quarts"},
	{"[pt_us]", &usGallon, "pt pint pints"},
	{"[foz_us]", &usGallon, "floz oz ounce ounces"},
	{"[foz_us]", nil, "usfloz"},
	{"[foz_br]", nil, "impfloz"},

	{"g", nil, "g gm gms gram grams gramme grammes"},
	{"mg", nil, "mg milligram milligrams"},
	{"ug", nil, "ug microgram micrograms"},
	{"kg", nil, "kg kgs kilogram kilograms"},
	{"t", nil, "t tonne tonnes metricton metrictons"},
	{"[oz_av]", nil, "oz ounce ounces"},
	{"[lb_av]", nil, "lb lbs pound pounds"},
	{"[ston_av]", &shortTon, "ton tons"},
	{"[ston_av]", nil, "shortton shorttons uston ustons"},
	{"[lton_av]", nil, "longton longtons"},

	{"s", nil, "s sec secs second seconds"},
	{"min", nil, "min mins minute minutes"},
	{"h", nil, "h hr hrs hour hours"},
	{"d", nil, "d day days"},

	{"Pa", nil, "pa pascal"},
	{"hPa", nil, "hpa"},
	{"kPa", nil, "kpa"},
	{"MPa", nil, "mpa"},
	{"bar", nil, "bar bars"},
	{"mbar", nil, "mbar mb"},
	{"[psi]", nil, "psi psig lbf/in2 lb/in2 lbs/in2"},
	{"atm", nil, "atm"},
	{"m[H2O]", nil, "mh2o"},
	{"cm[H2O]", nil, "cmh2o"},

	{"Cel", nil, "c degc celsius centigrade °c ℃ cel"},
	{"[degF]", nil, "f degf fahrenheit °f ℉"},
	{"K", nil, "k kelvin"},

	{"%", nil, "% pct percent vol% %vol wt% perc"},
	{"[ppth]", nil, "permille ‰"},
	{"1", nil, "fraction ratio v/v"},
	{"[ppm]", nil, "ppm"},
	{"mg/L", &partsPer, "ppm"},
	{"[ppb]", nil, "ppb"},
	{"ug/L", &partsPer, "ppb"},
	{"deg", nil, "deg degs degree degrees °"},
	{"{NTU}", nil, "ntu {ntu}"},
	{"{FNU}", nil, "fnu {fnu}"},
	{"{FTU}", nil, "ftu {ftu}"},

	{"mm/h", nil, "mmhr mmh mmph mmhour"},
	{"mm/min", nil, "mmmin"},
	{"mm/s", nil, "mms mmsec"},
	{"cm/h", nil, "cmhr cmh"},
	{"[in_i]/h", nil, "inhr inh iph"},
	{"mL/min", nil, "mlmin"},
	{"mL/s", nil, "mls mlsec"},
	{"L/min", nil, "lmin lpm"},
	{"L/h", nil, "lhr lph lh"},
	{"L/s", nil, "lps lsec"},
	{"[gal_us]/min", &usGallon, "gpm galmin"},
	{"[gal_us]/h", &usGallon, "gph"},
	{"g/L", nil, "gl gpl"},
	{"mg/L", nil, "mgl"},
	{"g/s", nil, "gsec gs"},
	{"g/min", nil, "gmin"},
	{"g/m2", nil, "gm2 gsqm"},
	{"kg/har", nil, "kgha"},
	{"t/har", nil, "tha"},
	{"kg/m3", nil, "kgm3"},
}

// phrases are words of the trade that hold a blank.
var phrases = []struct {
	words []string
	word  string
}{
	{[]string{"imp", "fl", "oz"}, "impfloz"}, {[]string{"us", "fl", "oz"}, "usfloz"},
	{[]string{"fl", "oz"}, "floz"}, {[]string{"fluid", "ounces"}, "floz"}, {[]string{"fluid", "ounce"}, "floz"},
	{[]string{"imp", "gal"}, "impgal"}, {[]string{"imperial", "gallons"}, "impgal"}, {[]string{"imperial", "gallon"}, "impgal"},
	{[]string{"uk", "gal"}, "impgal"}, {[]string{"us", "gal"}, "usgal"}, {[]string{"us", "gallons"}, "usgal"}, {[]string{"us", "gallon"}, "usgal"},
	{[]string{"sq", "ft"}, "sqft"}, {[]string{"square", "feet"}, "sqft"}, {[]string{"sq", "in"}, "sqin"}, {[]string{"square", "inches"}, "sqin"},
	{[]string{"sq", "yd"}, "sqyd"}, {[]string{"sq", "m"}, "sqm"}, {[]string{"square", "meters"}, "sqm"}, {[]string{"square", "metres"}, "sqm"},
	{[]string{"sq", "cm"}, "sqcm"}, {[]string{"cu", "ft"}, "cuft"}, {[]string{"cubic", "feet"}, "cuft"}, {[]string{"cu", "in"}, "cuin"},
	{[]string{"deg", "c"}, "degc"}, {[]string{"degrees", "c"}, "degc"}, {[]string{"degrees", "celsius"}, "degc"},
	{[]string{"deg", "f"}, "degf"}, {[]string{"degrees", "f"}, "degf"}, {[]string{"degrees", "fahrenheit"}, "degf"},
	{[]string{"short", "ton"}, "shortton"}, {[]string{"short", "tons"}, "shortton"}, {[]string{"us", "ton"}, "shortton"},
	{[]string{"long", "ton"}, "longton"}, {[]string{"long", "tons"}, "longton"},
	{[]string{"metric", "ton"}, "metricton"}, {[]string{"metric", "tons"}, "metricton"}, {[]string{"per", "cent"}, "percent"},
}

var (
	usGallon  = Note{USGallon, "gallons, quarts, pints and fluid ounces are taken for the US ones (1 gal = 3.785411784 L); write impgal for the imperial gallon"}
	shortTon  = Note{Ton, "a ton is taken for the short ton of 2000 lb; write t for the tonne of 1000 kg"}
	partsPer  = Note{PartsPer, "ppm is taken for mg/L, which is 0.62 % low at 10000 ppm by mass of suspension and proportionally less below"}
	wrongCase = Note{LetterCase, "read with a small m: by UCUM a capital M is mega, which no bottle holds"}
)

// caseTraps are UCUM codes that on a bottle mean something else.
var caseTraps = map[string]candidate{
	"ML": {"mL", []Note{wrongCase}},
	"Ml": {"mL", []Note{wrongCase}},
	"Mm": {"mm", []Note{wrongCase}},
}

// spellings is trade turned round: what a spelling may stand for.
var spellings = func() map[string][]candidate {
	out := map[string][]candidate{}
	for _, t := range trade {
		for _, s := range strings.Fields(t.listed) {
			c := candidate{code: t.code}
			if t.note != nil {
				c.notes = []Note{*t.note}
			}
			out[s] = append(out[s], c)
		}
	}
	return out
}()
