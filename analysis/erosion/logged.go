package erosion

import (
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
)

// readLogged makes a pool of each interval of the flow in which a logger read
// the concentration, for a plot without weighed or stated samples: the mean of
// the readings in the bins that begin within the interval (flag logged).
func (l *load) readLogged() {
	var s *experiment.Series
	for i := range l.in.Plot.Series {
		if l.in.Plot.Series[i].Channel == experiment.Concentration {
			s = &l.in.Plot.Series[i]
		}
	}
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
		if n > 0 {
			l.pools = append(l.pools, pool{start: f.StartMin, end: f.EndMin, stated: quantity.Some(sum / n)})
		}
	}
	if len(l.pools) > 0 {
		l.flags.Add("logged")
	}
}
