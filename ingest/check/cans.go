package check

import (
	"math"
	"time"

	"sheetwash/ingest/issue"
)

// cans reports catch cans whose depth cannot be told, and calibrations of one can.
func cans(d *Draft, into *issue.List) {
	f := d.Cans
	volume, depth := f.Column("volume"), f.Column("depth")
	area, diameter := f.Column("can_area"), f.Column("can_diameter")
	calibration := f.Column("calibration")
	count := map[string]int{}
	for i := range f.N {
		count[calibration.Word(i)]++
		sized := area.Is(i) != Absent || diameter.Is(i) != Absent
		switch {
		case volume.Is(i) == Absent && depth.Is(i) == Absent:
			report(into, CanNoDepth, f, i, "depth", "the can has neither depth nor volume: fill in one of them, 0 if it stayed dry, or delete the row")
		case volume.Has(i) && depth.Is(i) == Absent && !sized:
			report(into, CanNoSize, f, i, "can_area", "the can has a volume but no size: fill in can_area or can_diameter")
		}
		canStatements(d, i, into)
	}
	mixedCans(d, into)
	for i := range f.N {
		if w := calibration.Word(i); w != "" && count[w] == 1 && !d.Broken["cans"] {
			report(into, CanSingle, f, i, "calibration", "calibration %q has one can only: a pattern needs more", w)
		}
	}
}

// mixedCans reports the first can of a calibration that names another simulator
// or another day than the first of its cans: one calibration is of one rig on one day.
func mixedCans(d *Draft, into *issue.List) {
	f := d.Cans
	calibration, simulator, date := f.Column("calibration"), f.Column("simulator"), f.Column("date")
	first := map[string]int{}
	said := map[string]bool{}
	for i := range f.N {
		w := calibration.Word(i)
		j, seen := first[w]
		switch {
		case w == "" || said[w]:
		case !seen:
			first[w] = i
		case simulator.Has(i) && simulator.Has(j) && simulator.Word(i) != simulator.Word(j):
			said[w] = true
			report(into, CanMixed, f, i, "simulator", "calibration %q is of simulator %q in row %d and of %q here: give each calibration of a simulator its own identifier", w, simulator.Word(j), f.Row(j), simulator.Word(i))
		case date.Has(i) && date.Has(j) && !sameDay(date.Time(i), date.Time(j)):
			said[w] = true
			report(into, CanMixed, f, i, "date", "calibration %q has another date in row %d: give each day's cans an identifier of their own; the later date is taken", w, f.Row(j))
		}
	}
}

func sameDay(a, b time.Time) bool {
	y1, m1, d1 := a.Date()
	y2, m2, d2 := b.Date()
	return y1 == y2 && m1 == m2 && d1 == d2
}

// canStatements compares what is given twice: area and diameter, depth and volume.
func canStatements(d *Draft, i int, into *issue.List) {
	f := d.Cans
	a, oka := f.Column("can_area").Value(i)
	w, okw := f.Column("can_diameter").Value(i)
	round := math.Pi / 4 * w * w
	if oka && okw && a > 0 && math.Abs(round-a) > 0.05*a {
		report(into, CanDisagrees, f, i, "can_diameter", "a mouth of %s cm across has %s cm2, but can_area is %s cm2: correct one; can_area is used", figure(w), figure(round), figure(a))
	}
	depth, okd := f.Column("depth").Value(i)
	if v, ok := CanDepth(d, i, true); ok && okd && math.Abs(v-depth) > 0.05*depth+0.5 {
		report(into, CanDisagrees, f, i, "volume", "the volume makes a depth of %s mm, but depth is %s mm: correct one; depth is used", figure(v), figure(depth))
	}
}

// CanDepth returns the depth in mm that can i caught: as given, else volume over
// mouth area. With fromVolume the given depth is left aside.
func CanDepth(d *Draft, i int, fromVolume bool) (float64, bool) {
	f := d.Cans
	if v, ok := f.Column("depth").Value(i); ok && !fromVolume {
		return v, true
	}
	v, ok := f.Column("volume").Value(i)
	if !ok {
		return 0, false
	}
	if a, ok := f.Column("can_area").Value(i); ok && a > 0 {
		return 10 * v / a, true // mL/cm2 = cm
	}
	if w, ok := f.Column("can_diameter").Value(i); ok && w > 0 {
		return 10 * v / (math.Pi / 4 * w * w), true
	}
	return 0, false
}
