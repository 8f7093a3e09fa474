package check

import (
	"math"

	"sheetwash/analysis/experiment"
	"sheetwash/ingest/issue"
)

// pressureBand reports pressures outside the band of the profile: of a run, of
// its logger in the mean, and of catch cans.
func pressureBand(d *Draft, into *issue.List) {
	p := profilesOf(d)
	pressure := d.Runs.Column("pressure")
	for i := range d.Runs.N {
		r := p.ofRun(d, int32(i))
		if v, ok := pressure.Value(i); ok && outsideBand(v, r) {
			report(into, PressureBand, d.Runs, i, "pressure", "%s kPa is outside the band of the profile, %s: the rain is another one; nothing is corrected", figure(v), band(r))
		}
	}
	for k, l := range d.Readings {
		run := d.Links.RunOfLogged[k]
		if l.Series.Channel != experiment.Pressure || run < 0 {
			continue
		}
		r := p.ofRun(d, run)
		if v, ok := meanDuringRain(d, int(run), l.Series); ok && outsideBand(v, r) {
			report(into, PressureBand, d.Runs, int(run), "pressure", "the logged pressure is %s kPa in the mean of the rain, outside the band of the profile, %s: the rain is another one; nothing is corrected", figure(v), band(r))
		}
	}
	simulator, pressure := d.Cans.Column("simulator"), d.Cans.Column("pressure")
	for i := range d.Cans.N {
		r := p.of(simulator.Word(i))
		if v, ok := pressure.Value(i); ok && outsideBand(v, r) {
			report(into, PressureBand, d.Cans, i, "pressure", "%s kPa is outside the band of the profile, %s: the calibration is of another rain", figure(v), band(r))
		}
	}
}

func outsideBand(kPa float64, r *experiment.Rig) bool {
	return r.PressureLow.OK && kPa < r.PressureLow.V*(1-bandRounding) || r.PressureHigh.OK && kPa > r.PressureHigh.V*(1+bandRounding)
}

// bandRounding is the share by which a pressure on the edge of its band may miss
// it in another unit: six digits.
const bandRounding = 1e-6

func band(r *experiment.Rig) string {
	switch {
	case !r.PressureLow.OK:
		return "up to " + figure(r.PressureHigh.V) + " kPa"
	case !r.PressureHigh.OK:
		return "from " + figure(r.PressureLow.V) + " kPa"
	}
	return figure(r.PressureLow.V) + " to " + figure(r.PressureHigh.V) + " kPa"
}

// meanDuringRain returns the mean of a channel's readings during the rain of a run.
func meanDuringRain(d *Draft, run int, s experiment.Series) (float64, bool) {
	rain, known := d.Runs.Column("rain_duration").Value(run)
	var sum float64
	var n int64
	for _, b := range s.Bins {
		at := float64(b.Index)*s.BinMin + b.SumT/math.Max(1, float64(b.N))
		if at >= 0 && (!known || at <= rain) {
			sum += b.SumV
			n += int64(b.N)
		}
	}
	return sum / math.Max(1, float64(n)), n > 0
}

// supply reports runs that take more water than the tank gives.
//
//	demand = nozzles x flow x sqrt(p / p_flow) x (1 - tray share) x duration
//
// with the flow of the profile at its own pressure where the run's is not known.
// It is not plot area times depth: most of what the nozzles spray falls beside
// the plots.
func supply(d *Draft, into *issue.List) {
	p := profilesOf(d)
	for i := range d.Runs.N {
		r := p.ofRun(d, int32(i))
		minutes, ok := d.Runs.Column("rain_duration").Value(i)
		if !ok || !r.TankL.OK || !r.NozzleLMin.OK {
			continue
		}
		flow := r.NozzleLMin.V * float64(max(1, r.Nozzles))
		if v, ok := d.Runs.Column("pressure").Value(i); ok && v > 0 && r.NozzleKPa.OK {
			flow *= math.Sqrt(v / r.NozzleKPa.V)
		}
		demand := flow * (1 - r.TrayShare.Or(0)) * minutes
		if usable := r.TankL.V - r.HeelL.Or(0); demand > usable {
			report(into, SupplyTooSmall, d.Runs, i, "rain_duration", "%s min of rain take %s L, and the tank gives %s L: fill up during the run, or shorten it", figure(minutes), figure(demand), figure(usable))
		}
	}
}
