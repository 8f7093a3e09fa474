package check

import (
	"math"

	"sheetwash/ingest/issue"
)

// maxSedimentGL is the concentration above which a bottle would be mud, g/L of suspension.
const maxSedimentGL = 500

// sedimentReadings compares the readings of sediment of one bottle with one another.
func sedimentReadings(d *Draft, into *issue.List) {
	f := d.Samples
	b := readBottles(d)
	for i := range f.N {
		gross, okg := b.dishGross.Value(i)
		tare, okt := b.dishTare.Value(i)
		switch {
		case okg && okt:
			dishes(d, i, gross, tare, into)
		case okg && b.dishTare.Is(i) == Absent && !b.sediment.Has(i):
			report(into, SedimentTareMissing, f, i, "sediment_tare_mass", "the dish with sediment was weighed but its empty mass is not given: fill in sediment_tare_mass")
		}
		if mass, ok := b.sediment.Value(i); ok && okg && okt && math.Abs(mass-(gross-tare)) > 3*math.Sqrt(3)*d.Errors.SedimentG+0.02*mass {
			report(into, SedimentDisagrees, f, i, "sediment_mass", "sediment_mass is %s g, but the dish gives %s g: correct one of them; sediment_mass is used", figure(mass), figure(gross-tare))
		}
		concentrations(d, &b, i, into)
	}
}

// dishes reports a dish that lost mass: by more than three standard
// uncertainties of the difference an error, by less a non-detect.
func dishes(d *Draft, i int, gross, tare float64, into *issue.List) {
	switch loss := tare - gross; {
	case loss > 3*math.Sqrt2*d.Errors.SedimentG:
		report(into, SedimentBelowTare, d.Samples, i, "sediment_gross_mass", "the dish with sediment weighs %s g, less than the empty one (%s g): look for swapped or mistyped masses", figure(gross), figure(tare))
	case loss > 0:
		report(into, SedimentNotDetected, d.Samples, i, "sediment_gross_mass", "the dish with sediment weighs %s g less than the empty one, within the error of the balance: no sediment was detected", figure(loss))
	}
}

// concentrations compares a stated concentration with mass over volume, and
// both with what water can carry.
func concentrations(d *Draft, b *bottles, i int, into *issue.List) {
	mass, okm := b.dry(i)
	water, okw := b.water(i)
	stated, oks := b.concentration.Value(i)
	var computed float64
	okc := okm && okw && water > 0 && mass > 0
	if okc {
		computed = mass / water * 1000
	}
	switch {
	case oks && okc && math.Abs(stated-computed) > 0.05*computed+3*d.Errors.SedimentG/water*1000:
		report(into, SedimentDisagrees, d.Samples, i, "concentration", "the concentration is %s g/L, but mass over volume gives %s g/L: correct one of them; the mass is used", figure(stated), figure(computed))
	case oks && stated > maxSedimentGL:
		report(into, SedimentOdd, d.Samples, i, "concentration", "%s g/L is more than water can carry: check the unit", figure(stated))
	case okc && computed > maxSedimentGL && mass > 3*d.Errors.SedimentG:
		report(into, SedimentOdd, d.Samples, i, "sediment_mass", "%s g in %s mL is more than water can carry: check the units of sediment and volume", figure(mass), figure(water))
	}
}
