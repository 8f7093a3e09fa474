package check

import (
	"fmt"
	"math"

	"sheetwash/ingest/issue"
)

// clockTimes reports the runs whose bottles were noted by the time of day in
// cells that read as elapsed time: 10:05 is ten minutes and five seconds unless
// the mapping says that the column holds clock times. A run is taken for one if
// every end of its bottles, read as a time of day, lies within the rain and the
// hour after it, and no bottle would be longer than two minutes as it stands.
func clockTimes(d *Draft, into *issue.List) {
	f, started := d.Samples, d.Runs.Column("started")
	if started == nil {
		return
	}
	b := readBottles(d)
	type seen struct {
		rows, first int
		low, high   float64
		clocks      bool
	}
	byRun := make([]seen, d.Runs.N)
	for i := range d.Samples.N {
		r := d.Links.RunOfSample(i)
		if r < 0 || !started.Has(int(r)) || !b.timed(i) || !b.end.Has(i) {
			continue
		}
		s, v := &byRun[r], b.end.Num[i]
		if s.rows == 0 {
			*s = seen{first: i, low: v, high: v, clocks: true}
		}
		s.rows++
		s.low, s.high = min(s.low, v), max(s.high, v)
		s.clocks = s.clocks && timeOfDay(d, int(r), v) >= 0
	}
	for r, s := range byRun {
		if s.rows < 3 || !s.clocks || s.low < 24 && s.high-s.low > 2 {
			continue
		}
		at := timeOfDay(d, r, s.low)
		report(into, SampleClockTimes, f, s.first, "end", "the times of the bottles of run %q would be times of day from %s on, but stand for minutes from the start of rain: write clock: true for start and end in mapping.yaml, or give minutes",
			d.Runs.Column("run").Word(r), fmt.Sprintf("%02d:%02d", int(at)/60, int(at)%60))
	}
}

// timeOfDay returns the minutes from midnight that an elapsed time was written
// as, h:mm or h:mm:ss, if that is within the run and the hour after it; else -1.
func timeOfDay(d *Draft, run int, elapsedMin float64) float64 {
	start := d.Runs.Column("started").Stamp[run]
	rain, ok := d.Runs.Column("rain_duration").Value(run)
	if !ok {
		return -1
	}
	from := float64(start.Hour()*60+start.Minute()) + float64(start.Second())/60
	hour := math.Floor(elapsedMin + 1e-9)
	for _, clock := range []float64{elapsedMin, hour*60 + math.Round((elapsedMin-hour)*60)} {
		if from > rain+60 && clock >= from-1 && clock <= from+rain+60 {
			return clock
		}
	}
	return -1
}
