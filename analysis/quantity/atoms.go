package quantity

import "math/big"

// atom is a unit symbol: so many coherent SI units of a dimension.
type atom struct {
	dim    Dimension
	factor *big.Rat
	metric bool // takes prefixes
}

// turbidityScales are the annotations that stand for a scale of turbidity.
// All three are calibrated with the same formazin standard; they differ in the
// light they use, so that on natural sediment their readings differ.
var turbidityScales = map[string]bool{"NTU": true, "FNU": true, "FTU": true}

// scales are the temperature scales, which have a zero of their own.
var scales = map[string]Unit{
	"Cel":    {dim: Temperature, factor: one, offset: rat("273.15")},
	"[degF]": {dim: Temperature, factor: rat("5/9"), offset: rat("45967/180")}, // 459.67 * 5/9
}

// prefixes are the metric prefixes that occur.
var prefixes = map[string]*big.Rat{
	"T": rat("1e12"), "G": rat("1e9"), "M": rat("1e6"), "k": rat("1e3"), "h": rat("1e2"), "da": rat("10"),
	"d": rat("1/10"), "c": rat("1/100"), "m": rat("1/1000"), "u": rat("1e-6"), "n": rat("1e-9"), "p": rat("1e-12"),
}

// atoms holds the unit symbols. The customary units are those of UCUM's tables;
// their factors are exact (Thompson and Taylor 2008, NIST SP 811, appendix B:
// inch 25.4 mm, pound 0.45359237 kg, US gallon 231 cubic inches, standard
// gravity 9.80665 m/s2; the acre is that of the US survey foot, 1200/3937 m).
var atoms = map[string]atom{
	"m":   {Length, one, true},
	"g":   {Mass, rat("1/1000"), true},
	"s":   {Time, one, true},
	"K":   {Temperature, one, true},
	"A":   {Dimension{Current: 1}, one, true},
	"mol": {Dimension{Amount: 1}, one, true},
	"deg": {Angle, one, false},

	"min": {Time, rat("60"), false},
	"h":   {Time, rat("3600"), false},
	"d":   {Time, rat("86400"), false},
	"wk":  {Time, rat("604800"), false},
	"Hz":  {Dimension{Time: -1}, one, true},

	"l":  {Volume, rat("1/1000"), true},
	"L":  {Volume, rat("1/1000"), true},
	"ar": {Area, rat("100"), true},
	"t":  {Mass, rat("1000"), true},

	"N":          {Dimension{Mass: 1, Length: 1, Time: -2}, one, true},
	"J":          {Energy, one, true},
	"W":          {Dimension{Mass: 1, Length: 2, Time: -3}, one, true},
	"Pa":         {Pressure, one, true},
	"bar":        {Pressure, rat("100000"), true},
	"atm":        {Pressure, rat("101325"), false},
	"m[H2O]":     {Pressure, rat("9806.65"), true},
	"m[Hg]":      {Pressure, rat("133322"), true},
	"S":          {Dimension{Current: 2, Time: 3, Mass: -1, Length: -2}, one, true},
	"[g]":        {Dimension{Length: 1, Time: -2}, rat("9.80665"), true},
	"[lbf_av]":   {Dimension{Mass: 1, Length: 1, Time: -2}, product("0.45359237", "9.80665"), false},
	"[psi]":      {Pressure, new(big.Rat).Quo(product("0.45359237", "9.80665"), product("0.0254", "0.0254")), false},
	"[in_i'H2O]": {Pressure, product("9806.65", "0.0254"), false},

	"%":      {Dimensionless, rat("1/100"), false},
	"[ppth]": {Dimensionless, rat("1e-3"), false},
	"[ppm]":  {Dimensionless, rat("1e-6"), false},
	"[ppb]":  {Dimensionless, rat("1e-9"), false},

	"[in_i]":   {Length, rat("0.0254"), false},
	"[ft_i]":   {Length, rat("0.3048"), false},
	"[yd_i]":   {Length, rat("0.9144"), false},
	"[mi_i]":   {Length, rat("1609.344"), false},
	"[ft_us]":  {Length, rat("1200/3937"), false},
	"[sin_i]":  {Area, product("0.0254", "0.0254"), false},
	"[sft_i]":  {Area, product("0.3048", "0.3048"), false},
	"[syd_i]":  {Area, product("0.9144", "0.9144"), false},
	"[acr_us]": {Area, product("43560", "1200/3937", "1200/3937"), false},

	"[cin_i]":  {Volume, product("0.0254", "0.0254", "0.0254"), false},
	"[cft_i]":  {Volume, product("0.3048", "0.3048", "0.3048"), false},
	"[gal_us]": {Volume, product("231", "0.0254", "0.0254", "0.0254"), false},
	"[qt_us]":  {Volume, product("231/4", "0.0254", "0.0254", "0.0254"), false},
	"[pt_us]":  {Volume, product("231/8", "0.0254", "0.0254", "0.0254"), false},
	"[foz_us]": {Volume, product("231/128", "0.0254", "0.0254", "0.0254"), false},
	"[gal_br]": {Volume, rat("0.00454609"), false},
	"[qt_br]":  {Volume, rat("0.0011365225"), false},
	"[pt_br]":  {Volume, rat("0.00056826125"), false},
	"[foz_br]": {Volume, rat("0.0000284130625"), false},

	"[gr]":      {Mass, rat("0.00006479891"), false},
	"[oz_av]":   {Mass, rat("0.028349523125"), false},
	"[lb_av]":   {Mass, rat("0.45359237"), false},
	"[ston_av]": {Mass, rat("907.18474"), false},
	"[lton_av]": {Mass, rat("1016.0469088"), false},
}

// lookUp finds an atom, alone or behind a metric prefix.
func lookUp(name string) (Unit, bool) {
	if a, ok := atoms[name]; ok {
		return Unit{dim: a.dim, factor: a.factor}, true
	}
	for _, n := range []int{1, 2} {
		if len(name) <= n {
			continue
		}
		prefix, ok := prefixes[name[:n]]
		if !ok {
			continue
		}
		if a, ok := atoms[name[n:]]; ok && a.metric {
			return Unit{dim: a.dim, factor: new(big.Rat).Mul(prefix, a.factor)}, true
		}
	}
	return Unit{}, false
}

// rat reads a rational number written in this file.
func rat(s string) *big.Rat {
	r, ok := new(big.Rat).SetString(s)
	if !ok {
		panic("quantity: " + s + " is not a number")
	}
	return r
}

func product(factors ...string) *big.Rat {
	p := big.NewRat(1, 1)
	for _, f := range factors {
		p.Mul(p, rat(f))
	}
	return p
}
