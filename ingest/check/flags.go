package check

import "sheetwash/ingest/issue"

// flags reports remarks on a bottle that its readings do not bear out.
func flags(d *Draft, into *issue.List) {
	f := d.Samples
	b := readBottles(d)
	for i := range f.N {
		v, known := b.water(i)
		switch w := b.flag.Word(i); w {
		case "overflow", "spilled", "leak":
			switch {
			case known && v <= 0:
				report(into, FlagNoVolume, f, i, "flag", "flagged %s with nothing in it, which bounds nothing: fill in what was left, or empty the volume and flag it lost", w)
			case !known && b.volume.Is(i) == Absent && b.gross.Is(i) == Absent:
				report(into, FlagNoVolume, f, i, "flag", "flagged %s without a volume to be a lower bound: fill in what was left, or flag it lost", w)
			}
		case "lost":
			if known {
				report(into, FlagLostVolume, f, i, "flag", "flagged lost but a volume is given; it is not used: remove the flag or empty the volume")
			}
		}
	}
}
