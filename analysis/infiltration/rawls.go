package infiltration

// SoilTexture holds the Green-Ampt parameters of a texture class, means over
// many soils of the United States that say little of one plot.
type SoilTexture struct {
	Texture                     string
	Porosity, EffectivePorosity float64
	SuctionCM                   float64 // at the wetting front
	ConductivityCMH             float64 // K of the Green-Ampt equation, about half of that of the saturated soil
}

// rawls1983 is table 2 of [Rawls1983].
var rawls1983 = [...]SoilTexture{
	{"sand", 0.437, 0.417, 4.95, 11.78},
	{"loamy sand", 0.437, 0.401, 6.13, 2.99},
	{"sandy loam", 0.453, 0.412, 11.01, 1.09},
	{"loam", 0.463, 0.434, 8.89, 0.34},
	{"silt loam", 0.501, 0.486, 16.68, 0.65},
	{"sandy clay loam", 0.398, 0.330, 21.85, 0.15},
	{"clay loam", 0.464, 0.309, 20.88, 0.10},
	{"silty clay loam", 0.471, 0.432, 27.30, 0.10},
	{"sandy clay", 0.430, 0.321, 23.90, 0.06},
	{"silty clay", 0.479, 0.423, 29.22, 0.05},
	{"clay", 0.475, 0.385, 31.63, 0.03},
}

// Rawls1983 returns the Green-Ampt parameters of a texture class of the USDA, by
// its name in lower case, and whether there is such a class.
//
// Source: [Rawls1983].
func Rawls1983(texture string) (SoilTexture, bool) {
	for _, s := range rawls1983 {
		if s.Texture == texture {
			return s, true
		}
	}
	return SoilTexture{}, false
}

// Deficit returns the water that a soil takes up to its effective porosity.
//
//	dtheta = (1 - se) theta_e
//
// with effective saturation se and effective porosity theta_e. Units: shares of the
// volume. Source: [Chow1988] eq. 4.3.14.
func Deficit(effectivePorosity, effectiveSaturation float64) float64 {
	return (1 - effectiveSaturation) * effectivePorosity
}
