package inference

import (
	"math"
	"slices"

	"sheetwash/analysis/quantity"
)

// EventMean is the mean over events of values some of which are only bounds.
type EventMean struct {
	Interval
	Mu, Sigma, Tau float64 // at the largest likelihood; deviations between plots and between events
}

// CensoredEventMean returns the mean of normal values in events that shift them
// together, of which some are only known to lie beyond or between bounds:
// maximum likelihood with an interval from the profile likelihood.
//
//	y_ij = mu + tau u_i + sigma e_ij,  u and e standard normal
//	L = prod over events of the integral of phi(u) prod_j f_ij(u) du
//	f_ij = phi((y-mu-tau u)/sigma)/sigma, of a bound Phi((b-mu-tau u)/sigma) - Phi((a-mu-tau u)/sigma)
//	limits: the mu with 2 (ln Lmax - ln Lprofile(mu)) = k ln(1 + t²/(k-1)),  k events
//
// t is Student's quantile for k-1 degrees of freedom. Without bounds and with as
// many values in each event the limits are those of Student's t of the means of
// events where these differ by more than their values allow; else they are wider. With bounds they
// are an approximation, measured in docs/coverage.md. An event of nothing but bounds says what it
// can: unlike a mean of the values of events no event is set to its bound. A limit more than ten ranges of the values away
// is none: no_upper_limit, no_lower_limit. Where no event has two known values
// nothing tells the scatter of plots from that of events, and all plots scatter as one, cut for k events still.
//
// Source: Lyles, Lyles & Taylor (2000), Applied Statistics 49:485-497, and Hughes (1999), Biometrics 55:625-629,
// for the likelihood; Pinheiro & Bates (1995), Journal of Computational and Graphical Statistics 4:12-35, for the quadrature about the
// mode. Values with two bounds on their sides in fewer than two events: few_observed; the search did not end: not_converged. Errors:
// ErrInput for NaN, Low above High, an empty event or the level.
func CensoredEventMean(events [][]Bounds, level float64) (EventMean, error) {
	r := EventMean{Interval: Interval{Level: level, N: len(events)}}
	if err := checkLevel(level); err != nil {
		return r, err
	}
	holds, closed := 0, 0
	for _, g := range events {
		if err := checkBounds(g); err != nil {
			return r, err
		}
		if len(g) == 0 {
			return r, orInput(nil, "values of an event", 0)
		}
		if c := known(g); c > 0 {
			holds++
			closed += c
		}
	}
	switch {
	case closed == 0:
		r.Flags.Add(FlagAllCensored)
		return r, nil
	case holds < 2 || closed < 3:
		r.Flags.Add(FlagFewObserved)
		return r, nil
	}
	groups := events
	if !slices.ContainsFunc(events, func(g []Bounds) bool { return known(g) > 1 }) {
		groups = nil // nothing tells plots from events: all scatter as one
		for _, g := range events {
			for i := range g {
				groups = append(groups, g[i:i+1])
			}
		}
	}
	f, ok := newEventFit(groups)
	if !ok {
		r.Flags.Add(FlagNoSpread)
		return r, nil
	}
	f.alone = !slices.ContainsFunc(groups, func(g []Bounds) bool { return len(g) > 1 })
	f.interval(&r)
	return r, nil
}

func (f *eventFit) interval(r *EventMean) {
	best, at, ok := f.maximise(f.start())
	if !ok || !(math.Exp(at[1]) > minSigma) {
		r.Flags.Add(FlagNotConverged)
		return
	}
	sigma := math.Exp(at[1])
	r.Mu, r.Sigma, r.Tau = f.centre+f.scale*at[0], f.scale*sigma, f.scale*sigma*math.Abs(at[2])
	r.Value = quantity.Some(r.Mu)
	inverse := 0.0
	for i := range f.groups {
		inverse += 1 / f.groups[i].size()
	}
	k := float64(r.N)
	r.SD = quantity.Some(math.Sqrt(r.Tau*r.Tau + r.Sigma*r.Sigma*inverse/float64(len(f.groups))))
	r.DF = quantity.Some(k - 1)
	t := critical(r.Level, k-1)
	target := best.l - k*math.Log1p(t*t/(k-1))/2
	se := errorOf(best.h)
	if v, ok := f.limit(at, -1, se, target); ok {
		r.Low = quantity.Some(f.centre + f.scale*v)
	}
	if v, ok := f.limit(at, 1, se, target); ok {
		r.High = quantity.Some(f.centre + f.scale*v)
	}
	if r.open(); !r.Low.OK && !r.High.OK {
		r.Flags.Add(FlagNoLowerLimit, FlagNoUpperLimit)
	}
}

func (g *eventGroup) size() float64 {
	n := g.n
	for _, b := range g.bounds {
		n += b.n
	}
	return n
}

// start takes bounds as values.
func (f *eventFit) start() eventPoint {
	var means, all []float64
	within := 0.0
	for _, g := range f.groups {
		sum, first := g.n*g.mean, len(all)
		for range int(g.n) {
			all = append(all, g.mean)
		}
		for _, b := range g.bounds {
			v := b.Low
			switch {
			case b.closed():
				v = (b.Low + b.High) / 2
			case math.IsInf(v, -1):
				v = b.High
			}
			sum += b.n * v
			for range int(b.n) {
				all = append(all, v)
			}
		}
		means = append(means, sum/g.size())
		_, ss := moments(all[first:])
		within += ss + g.ss
	}
	mu, between := moments(means)
	_, ss := moments(all)
	for _, g := range f.groups {
		ss += g.ss
	}
	total := math.Max(ss/float64(len(all)), 1e-4)
	f.middle, f.inside = mu, math.Sqrt(math.Max(within/float64(len(all)), 1e-4))
	tau2 := math.Min(between/float64(len(means)), 0.8*total)
	sigma := math.Sqrt(total - 0.8*tau2)
	if f.alone {
		return eventPoint{mu, math.Log(total) / 2, 0}
	}
	return eventPoint{mu, math.Log(sigma), math.Sqrt(tau2)/sigma + 0.1}
}

// maximise returns the higher of two climbs: the likelihood may have a peak where
// events differ and one where they do not.
func (f *eventFit) maximise(p eventPoint) (climb, eventPoint, bool) {
	c, at, ok := f.climbFrom(p, 3)
	if f.alone {
		return c, at, ok
	}
	other := at
	other[2] = 1.5
	if math.Abs(at[2]) > 0.5 {
		other[2] = 0.1
	}
	if !ok {
		return f.climbFrom(other, 3)
	}
	d, q, also := f.rival(other, 3, c.l, &at)
	if also && d.l > c.l+1e-10 {
		return d, q, also
	}
	return c, at, ok
}

// profile returns the largest ln L for a mean, starting from the other parameters of
// p, and from these: all scatter about the mean is that of plots, or all is that of events.
func (f *eventFit) profile(p eventPoint) (float64, eventPoint) {
	c, at, ok := f.climbFrom(p, 2)
	if f.alone {
		return c.l, at
	}
	var peak *eventPoint
	if ok {
		peak = &at
	}
	far := math.Max(math.Abs(p[0]-f.middle), 0.1)
	for _, q := range [2]eventPoint{{p[0], math.Log(far), 0.1}, {p[0], math.Log(f.inside), far / f.inside}} {
		if d, q, _ := f.rival(q, 2, c.l, peak); d.l > c.l { // also of a climb that stopped short: it has been there
			c, at = d, q
		}
	}
	return c.l, at
}

// rival climbs from elsewhere as far as it takes to tell whether another peak is
// higher than one of height l; what it returns else is lower.
func (f *eventFit) rival(p eventPoint, n int, l float64, peak *eventPoint) (climb, eventPoint, bool) {
	f.rule = fewNodes
	c, p, _ := f.ascend(f.at(p), p, n, peak)
	f.rule = wholeNodes
	if peak != nil && p == *peak || c.l < l-10*fewErr {
		return climb{l: math.Inf(-1)}, p, false
	}
	return f.ascend(f.at(p), p, n, nil)
}

// climbFrom climbs in the last n parameters, from afar with a few nodes first.
func (f *eventFit) climbFrom(p eventPoint, n int) (climb, eventPoint, bool) {
	const afar = 1e-3
	c := f.at(p)
	if _, gain := ascent(c.g, c.h, n); gain > afar {
		f.rule = fewNodes
		_, p, _ = f.ascend(f.at(p), p, n, nil)
		f.rule = wholeNodes
		c = f.at(p)
	}
	return f.ascend(c, p, n, nil)
}

// ascend climbs by Newton's steps from a point with its likelihood. It ends at a
// peak that is given as soon as it is next to it.
func (f *eventFit) ascend(c climb, p eventPoint, n int, peak *eventPoint) (climb, eventPoint, bool) {
	for range 100 {
		if peak != nil && next(p, *peak) {
			return c, *peak, true
		}
		step, gain := ascent(c.g, c.h, n)
		if gain < f.rule.enough*(1+math.Abs(c.l)) {
			return c, p, true
		}
		moved := false
		longest := 1.0 // of the whole step, whose direction rises; cut in one parameter alone it may not
		for i := 3 - n; i < 3; i++ {
			longest = math.Max(longest, math.Abs(step[i]))
		}
		for cut := 1 / longest; cut > 1e-9; cut /= 2 {
			q := p
			for i := 3 - n; i < 3; i++ {
				q[i] += cut * step[i]
			}
			if v := f.at(q); v.l > c.l {
				p, c, moved = q, v, true
				break
			}
		}
		if !moved {
			return c, p, gain < 1e-8
		}
	}
	return c, p, false
}

// next reports whether two points are within 0.02 of each other; the likelihood is even in the last parameter.
func next(p, q eventPoint) bool {
	const close = 0.02
	return math.Abs(p[0]-q[0]) < close && math.Abs(p[1]-q[1]) < close && math.Abs(math.Abs(p[2])-math.Abs(q[2])) < close
}

// ascent solves for a Newton step of the last n parameters, with the curvature
// made definite, and returns twice the rise that it promises.
func ascent(g [3]float64, h [3][3]float64, n int) (step [3]float64, gain float64) {
	from := 3 - n
	ridge := 0.0
	for range 60 {
		var l [3][3]float64
		ok := true
		for i := from; i < 3 && ok; i++ {
			for j := from; j <= i; j++ {
				s := -h[i][j]
				if i == j {
					s += ridge
				}
				for k := from; k < j; k++ {
					s -= l[i][k] * l[j][k]
				}
				if i == j {
					if !(s > 1e-9) {
						ok = false
						break
					}
					l[i][i] = math.Sqrt(s)
				} else {
					l[i][j] = s / l[j][j]
				}
			}
		}
		if !ok {
			ridge = math.Max(2*ridge, 1e-3)
			continue
		}
		var y [3]float64
		for i := from; i < 3; i++ {
			y[i] = g[i]
			for k := from; k < i; k++ {
				y[i] -= l[i][k] * y[k]
			}
			y[i] /= l[i][i]
		}
		for i := 2; i >= from; i-- {
			step[i] = y[i]
			for k := i + 1; k < 3; k++ {
				step[i] -= l[k][i] * step[k]
			}
			step[i] /= l[i][i]
			gain += step[i] * g[i]
		}
		return step, gain
	}
	return step, 0
}

// errorOf is the standard error of the mean by the curvature.
func errorOf(h [3][3]float64) float64 {
	step, _ := ascent([3]float64{1, 0, 0}, h, 3)
	return math.Sqrt(math.Max(step[0], 1e-12))
}

// farthest is how many ranges of the data from the mean a limit is looked for. Where the profile
// has not fallen by then the values do not bound their mean on that side.
const farthest = 10

// limit returns the mean on one side at which the profile has fallen to a value, and whether there is one:
// by Newton's method on all parameters at once (Venzon & Moolgavkar 1988, Applied
// Statistics 37:87-94), or where that goes astray by bracketing the profile.
func (f *eventFit) limit(at eventPoint, side, se, target float64) (float64, bool) {
	best := f.at(at)
	p := at
	p[0] += side * se * math.Sqrt(2*(best.l-target))
	_, p, ok := f.climbFrom(p, 2)
	for peaks := 0; ok && peaks < 4; peaks++ {
		c, q, found := f.crossing(p, se, target)
		if !found || (q[0]-at[0])*side <= 0 {
			break
		}
		p = q
		if !(c.h[1][1] < 0 && c.h[1][1]*c.h[2][2] > c.h[1][2]*c.h[1][2]) { // a saddle between two peaks
			p[2] += 0.1
			_, p, ok = f.climbFrom(p, 2)
			continue
		}
		top, higher := f.profile(p)
		if top < target+1e-9 {
			return p[0], math.Abs(p[0]-at[0]) < farthest
		}
		p = higher // the profile follows another peak there
	}
	return f.bracketed(at, side, se, best.l-target, target)
}

// crossing returns where a peak of the likelihood for a given mean falls to the target as the mean
// changes, with the likelihood there. It may be a saddle.
func (f *eventFit) crossing(p eventPoint, se, target float64) (climb, eventPoint, bool) {
	for range 30 {
		c := f.at(p)
		step, ok := solve3([3][4]float64{
			{c.g[0], c.g[1], c.g[2], target - c.l},
			{c.h[1][0], c.h[1][1], c.h[1][2], -c.g[1]},
			{c.h[2][0], c.h[2][1], c.h[2][2], -c.g[2]},
		})
		if !ok || math.Abs(step[0]) > 20*se {
			return c, p, false
		}
		if math.Abs(c.l-target) < 1e-10 && math.Abs(c.g[1])+math.Abs(c.g[2]) < 1e-7 && math.Abs(step[0]) < 1e-9*(math.Abs(p[0])+se) {
			return c, p, true
		}
		for i := range p {
			p[i] += math.Max(-1, math.Min(1, step[i]))
		}
	}
	return climb{}, p, false
}

func (f *eventFit) bracketed(at eventPoint, side, se, fin, target float64) (float64, bool) {
	in, out, fout := at[0], at[0], 0.0
	p := at
	step := 2 * se
	for {
		if math.Abs(out-at[0]) > farthest {
			return 0, false
		}
		out += side * step
		p[0] = out
		fout, p = f.profile(p)
		if fout -= target; fout < 0 {
			break
		}
		in, fin = out, fout
		step *= 1.6
	}
	v := brent(func(x float64) float64 {
		p[0] = x
		var l float64
		l, p = f.profile(p)
		return l - target
	}, in, out, fin, fout, 1e-10)
	return v, math.Abs(v-at[0]) < farthest
}

// solve3 solves three linear equations by elimination with pivots.
func solve3(m [3][4]float64) (x [3]float64, ok bool) {
	for i := range 3 {
		top := i
		for r := i + 1; r < 3; r++ {
			if math.Abs(m[r][i]) > math.Abs(m[top][i]) {
				top = r
			}
		}
		m[i], m[top] = m[top], m[i]
		if !(math.Abs(m[i][i]) > 1e-14) {
			return x, false
		}
		for r := i + 1; r < 3; r++ {
			f := m[r][i] / m[i][i]
			for c := i; c < 4; c++ {
				m[r][c] -= f * m[i][c]
			}
		}
	}
	for i := 2; i >= 0; i-- {
		x[i] = m[i][3]
		for c := i + 1; c < 3; c++ {
			x[i] -= m[i][c] * x[c]
		}
		x[i] /= m[i][i]
	}
	return x, true
}
