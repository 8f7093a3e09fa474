package check

import (
	"math"

	"sheetwash/ingest/issue"
)

// waterReadings compares the readings of water of one bottle with one another.
func waterReadings(d *Draft, into *issue.List) {
	f := d.Samples
	b := readBottles(d)
	for i := range f.N {
		gross, okg := b.gross.Value(i)
		tare, okt := b.tare.Value(i)
		volume, okv := b.volume.Value(i)
		switch {
		case okg && okt && gross < tare-3*d.Errors.MassG:
			report(into, GrossBelowTare, f, i, "gross_mass", "the full bottle weighs %s g, less than the empty one (%s g): look for swapped or mistyped masses", figure(gross), figure(tare))
		case okg && b.tare.Is(i) == Absent && b.volume.Is(i) == Absent && b.flag.Word(i) != "lost":
			report(into, TareMissing, f, i, "tare_mass", "the full bottle was weighed but its empty mass is not given: fill in tare_mass, or flag the bottle lost")
		case okv && okg && okt:
			w, _ := b.weighed(i)
			if math.Abs(volume-w) > volumeTolerance(d, volume) {
				report(into, VolumeDisagrees, f, i, "volume", "the volume is %s mL, but the masses give %s mL: correct one of them; the volume is used", figure(volume), figure(w))
			}
		}
		if notMeasured(&b, i) {
			report(into, SampleNotMeasured, f, i, "volume", "the bottle has no volume, mass, sediment or flag and is taken for a gap: fill in what was measured, or 0 if it was empty")
		}
	}
}

// volumeTolerance is how far a volume and two masses of one bottle may differ:
// three standard uncertainties and 1 % for the density that this check leaves out.
func volumeTolerance(d *Draft, volume float64) float64 {
	e := d.Errors
	u := math.Sqrt(math.Pow(e.VolumeRel*volume, 2) + e.VolumeML*e.VolumeML + 2*e.MassG*e.MassG)
	return 3*u + 0.01*volume
}

func notMeasured(b *bottles, i int) bool {
	if !b.timed(i) || b.carriesSediment(i) || b.exclude.True(i) || b.flag.Has(i) && b.flag.Word(i) != "ok" {
		return false
	}
	if b.volume.Is(i) != Absent || b.gross.Is(i) != Absent {
		return false
	}
	for _, c := range b.f.Columns { // analytes and turbidity make a row worth keeping
		if (c.Open || c.Name == "turbidity") && c.Is(i) != Absent {
			return false
		}
	}
	return true
}
