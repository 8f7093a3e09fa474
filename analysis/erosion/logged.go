package erosion

import (
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
)

// readLogged makes a pool of each interval of the flow in which a logger read
// the concentration, for a plot without weighed or stated samples: the mean of
// the readings in the bins that begin within the interval (flag logged).
func (l *load) readLogged() {
	s := l.channel(experiment.Concentration)
	if s == nil {
		l.readLoggedTurbidity()
		return
	}
	at := 0
	for i := range l.in.Flow {
		f := &l.in.Flow[i]
		var sum, n float64
		for ; at < len(s.Bins) && float64(s.Bins[at].Index)*s.BinMin < f.EndMin-sameMin; at++ {
			if float64(s.Bins[at].Index)*s.BinMin >= f.StartMin-sameMin {
				sum, n = sum+s.Bins[at].SumV, n+float64(s.Bins[at].N)
			}
		}
		if n > 0 {
			l.pools = append(l.pools, pool{start: f.StartMin, end: f.EndMin, stated: quantity.Some(sum / n)})
		}
	}
	if len(l.pools) > 0 {
		l.flags.Add("logged")
	}
}

// channel returns a logger channel of the plot, or nil.
func (l *load) channel(c experiment.Channel) *experiment.Series {
	for i := range l.in.Plot.Series {
		if l.in.Plot.Series[i].Channel == c {
			return &l.in.Plot.Series[i]
		}
	}
	return nil
}

// readLoggedTurbidity is the like of readLogged for a turbidity channel: the
// rating gives the mean turbidity of each interval a concentration.
func (l *load) readLoggedTurbidity() {
	s := l.channel(experiment.Turbidity)
	if s == nil {
		return
	}
	at := 0
	for i := range l.in.Flow {
		f := &l.in.Flow[i]
		var sum, n float64
		for ; at < len(s.Bins) && float64(s.Bins[at].Index)*s.BinMin < f.EndMin-sameMin; at++ {
			if float64(s.Bins[at].Index)*s.BinMin >= f.StartMin-sameMin {
				sum, n = sum+s.Bins[at].SumV, n+float64(s.Bins[at].N)
			}
		}
		if n == 0 || !(f.VolumeML > 0) {
			continue
		}
		if p, ok := l.rated(sum / n); ok {
			p.start, p.end = f.StartMin, f.EndMin
			l.pools = append(l.pools, p)
		}
	}
	if len(l.pools) > 0 {
		l.flags.Add("logged")
	}
}
