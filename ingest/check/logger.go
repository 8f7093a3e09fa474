package check

import (
	"fmt"

	"sheetwash/analysis/experiment"
	"sheetwash/ingest/issue"
)

// loggerChannels reports cumulative channels whose mean falls from one bin to
// a later one by more than the instrument's error.
func loggerChannels(d *Draft, into *issue.List) {
	for _, r := range d.Readings {
		s := r.Series
		if !s.Channel.Cumulative() || len(s.Bins) < 2 {
			continue
		}
		allowed := fallAllowed(s.Channel, d.Errors)
		high := s.Bins[0].SumV / float64(s.Bins[0].N)
		for _, bin := range s.Bins[1:] {
			mean := bin.SumV / float64(bin.N)
			if mean < high-allowed {
				into.Add(issue.Issue{
					Code: ReadingFalls, Severity: SeverityOf(ReadingFalls), File: s.Place.File, Table: "readings", Row: s.Place.Row, Column: "value",
					Value:   s.Channel.String(),
					Message: fmt.Sprintf("%s of run %q plot %q falls from %s to %s near %s min: look for an emptied container or a reset", s.Channel, r.Run, r.Plot, figure(high), figure(mean), figure(float64(bin.Index)*s.BinMin)),
				})
				break
			}
			high = max(high, mean)
		}
	}
}

// fallAllowed is how far a mean over a bin may fall by reading error alone.
func fallAllowed(c experiment.Channel, e experiment.ErrorModel) float64 {
	switch c {
	case experiment.RunoffMass, experiment.DrainageMass:
		return 10 * e.MassG
	case experiment.RunoffVolume, experiment.DrainageVolume:
		return 3 * e.VolumeML
	default:
		return 0.3 // mm, one and a half tips of a common rain gauge
	}
}
