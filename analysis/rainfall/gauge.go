package rainfall

import "sheetwash/analysis/experiment"

// fromGauge takes rain that was logged during the run: on the plot itself, else
// under the run and spread by the calibration's pattern.
//
//	i_plot(t) = i_gauge(t) m_position / m_all
//
// with the calibration's mean at the plot's position and over all cans. Without
// a pattern the gauge stands for every plot (flag pattern_unknown). The relative
// error of the gauge is errs.IntensityRel, common to the run; that of the
// pattern is the plot's own.
func (r *Rain) fromGauge(run *experiment.Run, plot *experiment.Plot, cal *Calibration, errs experiment.ErrorModel) bool {
	s := rainSeries(plot.Series)
	own := s != nil
	if !own {
		s = rainSeries(run.Series)
	}
	if s == nil || !r.course(s) {
		return false
	}
	r.Source = SourceGauge
	r.uStated = errs.IntensityRel * r.IntensityMMH
	if own {
		return true
	}
	if cal == nil || cal.MeanMMH == 0 {
		r.Flags.Add("pattern_unknown")
		return true
	}
	p, found := cal.At(plot.Position)
	if !found {
		r.Flags.Add("pattern_unknown")
		return true
	}
	r.scale(p.MeanMMH / cal.MeanMMH)
	r.Calibration = cal.ID
	r.patternError(cal, p, errs)
	return true
}

func (r *Rain) scale(factor float64) {
	r.IntensityMMH *= factor
	r.uStated *= factor
	for i := range r.RatesMMH {
		r.RatesMMH[i] *= factor
	}
}

// rainSeries returns the channel that tells rain: a rate before a running depth.
func rainSeries(series []experiment.Series) *experiment.Series {
	var depth *experiment.Series
	for i := range series {
		switch {
		case len(series[i].Bins) == 0 || series[i].VolumeRate:
		case series[i].Channel == experiment.RainRate:
			return &series[i]
		case series[i].Channel == experiment.RainDepth:
			depth = &series[i]
		}
	}
	return depth
}

// course fills the mean intensity and its course from a logged channel, and
// reports whether the channel has anything between rain on and rain off.
//
// A rate holds from half-way to the reading before to half-way to the one after,
// the first from rain on and the last until rain off. A running depth gives the
// mean rate between the mean readings of neighbouring bins; the first and the
// last of these hold to rain on and rain off. A channel that is silent for more
// than the first or last tenth of the rain is flagged rain_partly_logged.
func (r *Rain) course(s *experiment.Series) bool {
	t, v := binMeans(s, r.DurationMin)
	rates := v
	var edges []float64
	if s.Channel == experiment.RainDepth {
		if len(t) < 2 {
			return false
		}
		rates = r.ratesOfDepth(t, v)
		edges = append(edges, t...)
		edges[0], edges[len(edges)-1] = 0, r.DurationMin
	} else {
		if len(t) == 0 {
			return false
		}
		edges = make([]float64, len(t)+1)
		for i := 1; i < len(t); i++ {
			edges[i] = (t[i-1] + t[i]) / 2
		}
		edges[len(t)] = r.DurationMin
	}
	if t[0] > 0.1*r.DurationMin || t[len(t)-1] < 0.9*r.DurationMin {
		r.Flags.Add("rain_partly_logged")
	}
	r.EdgesMin, r.RatesMMH = edges, rates
	var sum float64
	for i, rate := range rates {
		sum += rate * (edges[i+1] - edges[i])
	}
	r.IntensityMMH = sum / r.DurationMin
	if r.IntensityMMH > 0 {
		return true
	}
	r.EdgesMin, r.RatesMMH, r.IntensityMMH = nil, nil, 0
	return false
}

// ratesOfDepth returns the rates between readings of a running depth, mm/h. A
// gauge that falls was emptied: the rate before it goes on (flag rain_reset).
func (r *Rain) ratesOfDepth(t, v []float64) []float64 {
	rates := make([]float64, len(t)-1)
	last := 0.0
	for i := range rates {
		if v[i+1] < v[i] {
			r.Flags.Add("rain_reset")
		} else {
			last = 60 * (v[i+1] - v[i]) / (t[i+1] - t[i])
		}
		rates[i] = last
	}
	return rates
}

// binMeans returns the mean time and value of each bin whose mean time lies
// between rain on and rain off.
func binMeans(s *experiment.Series, durationMin float64) (t, v []float64) {
	t, v = make([]float64, 0, len(s.Bins)), make([]float64, 0, len(s.Bins))
	for _, b := range s.Bins {
		n := float64(b.N)
		at := float64(b.Index)*s.BinMin + b.SumT/n
		if b.N > 0 && at >= 0 && at <= durationMin {
			t, v = append(t, at), append(v, b.SumV/n)
		}
	}
	return t, v
}
