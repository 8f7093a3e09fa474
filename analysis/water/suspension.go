package water

// ParticleDensity is the density of mineral grains, g/mL: the value that
// sediment practice takes for quartz sand ([Guy1969]). Wet aggregates are lighter.
const ParticleDensity = 2.65

// Suspension is water with dry sediment in it.
type Suspension struct {
	WaterG, SedimentG float64 // masses
	WaterKgM3         float64 // density of the water
}

// VolumeML returns the volume of the suspension: what a graduated bottle shows.
//
//	V = m_w / rho_w + m_s / 2.65
//
// Units: masses in g, rho_w in kg/m3 (here over 1000, g/mL), V in mL.
// Source: definition; volumes of grains and water add.
func (s Suspension) VolumeML() float64 {
	return 1000*s.WaterG/s.WaterKgM3 + s.SedimentG/ParticleDensity
}

// PerLSuspension returns the concentration on the first of three bases, g of
// sediment per L of suspension: the one to multiply by a suspension's volume.
//
//	c = 1000 m_s / V
//
// Units: g/L. Source: definition. An empty suspension has none: 0, false.
func (s Suspension) PerLSuspension() (float64, bool) {
	return ratio(1000*s.SedimentG, s.VolumeML())
}

// PerLWater returns the concentration on the second basis, g of sediment per L
// of water.
//
//	c_w = m_s rho_w / m_w
//
// Units: g/L. Source: definition. Without water there is none: 0, false.
func (s Suspension) PerLWater() (float64, bool) {
	return ratio(s.SedimentG*s.WaterKgM3, s.WaterG)
}

// PerKg returns the concentration on the third basis, g of sediment per kg of
// suspension.
//
//	c_m = 1000 m_s / (m_w + m_s)
//
// Units: g/kg. Source: definition. An empty suspension has none: 0, false.
func (s Suspension) PerKg() (float64, bool) {
	return ratio(1000*s.SedimentG, s.WaterG+s.SedimentG)
}

func ratio(num, den float64) (float64, bool) {
	if !(den > 0) {
		return 0, false
	}
	return num / den, true
}

// VolumeOfMass returns the volume of a suspension of known mass and
// concentration: what a weighed bottle holds.
//
//	V = (m / rho_w) / (1 + c (1/rho_w - 1/2.65))
//
// from m = m_w + m_s, m_s = c V and V = m_w/rho_w + m_s/2.65, with c in g/mL.
//
// Units: m in g, c in g per L of suspension, rho_w in kg/m3, V in mL.
// Source: derived above.
func VolumeOfMass(massG, gPerL, waterKgM3 float64) float64 {
	perML := 1000 / waterKgM3
	return massG * perML / (1 + gPerL/1000*(perML-1/ParticleDensity))
}

// WaterBasis turns g per L of suspension into g per L of water.
//
//	c_w = c / (1 - c / 2650)
//
// Units: g/L. Source: definition with grains of 2.65 g/mL. A concentration of
// 2650 g/L or more leaves no room for water: 0, false.
func WaterBasis(gPerL float64) (float64, bool) {
	return ratio(gPerL, 1-gPerL/(1000*ParticleDensity))
}

// SuspensionBasis turns g per L of water into g per L of suspension, the
// reverse of WaterBasis.
//
//	c = c_w / (1 + c_w / 2650)
//
// Units: g/L. Source: definition with grains of 2.65 g/mL.
func SuspensionBasis(gPerLWater float64) float64 {
	return gPerLWater / (1 + gPerLWater/(1000*ParticleDensity))
}

// MassBasis turns g per L of suspension into g per kg of suspension.
//
//	c_m = c / (rho_w + c (1 - rho_w / 2650)) x 1000
//
// Units: c in g/L, rho_w in kg/m3, result in g/kg. Source: definition with
// grains of 2.65 g/mL: a litre weighs c + rho_w (1 - c/2650) g.
func MassBasis(gPerL, waterKgM3 float64) float64 {
	return 1000 * gPerL / (waterKgM3 + gPerL*(1-waterKgM3/(1000*ParticleDensity)))
}

// PPMToMgPerL turns parts per million by mass of suspension into mg per L of
// suspension.
//
//	mg/L = ppm / (1 - ppm (1 - 1/2.65) / 10^6)
//
// Units: as named. Source: [USGS1993], with water of 1 g/mL; its printed
// constant is 0.622, here 1 - 1/2.65 = 0.62264.
func PPMToMgPerL(ppm float64) float64 {
	return ppm / (1 - ppm*(1-1/ParticleDensity)/1e6)
}
