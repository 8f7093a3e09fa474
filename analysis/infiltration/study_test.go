package infiltration_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"
	"time"

	"sheetwash/analysis/infiltration"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/simulate"
)

type draw struct {
	plot     simulate.Plot
	schedule simulate.Schedule
	in       infiltration.Input
	truth    simulate.Truth
	green    bool
	n        int
	kd, kT   float64
	routed   bool
	noted    bool
}

func uniform(r *rand.Rand, a, b float64) float64 { return a + (b-a)*r.Float64() }
func logUniform(r *rand.Rand, a, b float64) float64 {
	return a * math.Exp(r.Float64()*math.Log(b/a))
}

func makeDraw(r *rand.Rand, uIntensityRel float64) draw {
	var d draw
	i := uniform(r, 40, 120)
	T := uniform(r, 20, 60)
	d.green = r.IntN(2) == 1
	k := logUniform(r, 3, 20)
	p := simulate.Plot{AreaM2: logUniform(r, 0.1, 1), Rain: simulate.ConstantRain(i, T), DepressionMM: uniform(r, 0.5, 3), RecessionMin: 5,
		ConcentrationGL: 10, ConcentrationEndGL: 4, DeclinePerH: 3}
	if d.green {
		p.Soil = simulate.GreenAmpt{K: i * uniform(r, 0.05, 0.6), PsiTheta: logUniform(r, 5, 60)}
	} else {
		fc := i * uniform(r, 0.05, 0.7)
		p.Soil = simulate.Horton{F0: i * uniform(r, 1.05, 4), Fc: fc, K: k, ByClock: r.IntN(2) == 1}
	}
	if r.IntN(2) == 1 {
		p.ReservoirMin = uniform(r, 0.1, 1)
		d.routed = true
	}
	d.plot = p
	d.truth = p.Simulate()
	d.n = 6 + r.IntN(25)
	s := simulate.Schedule{N: d.n}
	if r.IntN(2) == 1 {
		s.AtOnset = true
	}
	if r.IntN(2) == 1 {
		s.GapMin = 0.1
	}
	d.schedule = s
	d.kT = k * T / 60
	d.kd = k * T / 60 / float64(d.n)
	bottles := d.truth.Collect(s, instruments, r)
	recorded := i * (1 + uIntensityRel*r.NormFloat64())
	d.in = infiltration.Input{IntensityMMH: recorded, UIntensity: uIntensityRel * i, UAreaRel: 0, RainMin: T, RanOff: d.truth.OnsetMin.OK, UOnsetMin: 5.0 / 60}
	d.noted = r.IntN(2) == 1
	if d.truth.OnsetMin.OK && d.noted {
		d.in.OnsetMin = quantity.Some(math.Max(0, d.truth.OnsetMin.V+r.NormFloat64()*5/60))
	}
	for _, b := range bottles {
		if b.Recession {
			continue
		}
		dur := b.EndMin - b.StartMin
		if dur <= 0.02 {
			continue
		}
		q := (b.VolumeML - b.SedimentG/2.65) / p.AreaM2 / 1000 / dur * 60
		uq := math.Hypot(math.Hypot(0.005*b.VolumeML, 2)/p.AreaM2/1000/dur*60, q*math.Sqrt2/60/dur)
		d.in.Intervals = append(d.in.Intervals, infiltration.Interval{StartMin: b.StartMin, EndMin: b.EndMin, RateMMH: q, U: uq})
	}
	return d
}

var instruments = simulate.FieldInstruments()

type cell struct {
	name          string
	errs, width   []float64
	n, in, lo, hi int
	ok            int // within the limit
}

func (c *cell) add(v, low, high, truth, i float64) {
	e := math.Abs(v - truth)
	lim := math.Max(0.06*truth, 0.02*i)
	c.errs = append(c.errs, e/lim)
	c.width = append(c.width, (high-low)/lim)
	c.n++
	if low <= truth && truth <= high {
		c.in++
	} else if truth < low {
		c.lo++
	} else {
		c.hi++
	}
}

func (c *cell) String() string {
	slices.Sort(c.errs)
	slices.Sort(c.width)
	if c.n == 0 {
		return c.name
	}
	return fmt.Sprintf("%-34s n %5d  med err/lim %.2f p90 %.2f  cover %.1f  (below low %.1f above high %.1f)  med width/lim %.2f", c.name, c.n, c.errs[c.n/2], c.errs[c.n*9/10],
		100*float64(c.in)/float64(c.n), 100*float64(c.lo)/float64(c.n), 100*float64(c.hi)/float64(c.n), c.width[c.n/2])
}

func TestStudyScratch(t *testing.T) {
	if os.Getenv("STUDY") == "" {
		return
	}
	for _, ui := range []float64{0, 0.03} {
		r := rand.New(rand.NewPCG(1, 2))
		cells := map[string]*cell{}
		add := func(name string, a [4]float64, i float64) {
			c := cells[name]
			if c == nil {
				c = &cell{name: name}
				cells[name] = c
			}
			c.add(a[0], a[1], a[2], a[3], i)
		}
		for range 6000 {
			d := makeDraw(r, ui)
			if !d.truth.OnsetMin.OK || len(d.in.Intervals) == 0 {
				continue
			}
			a := infiltration.Steady(d.in)
			for _, m := range []string{"H", "W"} {
				e := a.Horton
				if m == "W" {
					e = a.Window
				}
				if !e.Value.OK {
					add(m+" novalue", [4]float64{}, 1)
					continue
				}
				if e.Censored != "" {
					add(m+" censored "+string(e.Censored), [4]float64{e.Value.V, e.Low.Or(-1e9), e.High.Or(1e9), d.truth.CapacityMMH}, d.in.IntensityMMH)
					continue
				}
				v := [4]float64{e.Value.V, e.Low.V, e.High.V, d.truth.CapacityMMH}
				i := d.in.IntensityMMH
				add(m+" all", v, i)
				add(fmt.Sprintf("%s green %v", m, d.green), v, i)
				add(fmt.Sprintf("%s green %v routed %v", m, d.green, d.routed), v, i)
				add(fmt.Sprintf("%s noted %v", m, d.noted), v, i)
				add(fmt.Sprintf("%s n used %02d", m, min(e.N, 12)), v, i)
				add(fmt.Sprintf("%s flags %s", m, e.Flags.String()), v, i)
				for _, f := range []string{"not_steady", "start_moved"} {
					add(fmt.Sprintf("%s flag %s %v", m, f, e.Flags.Has(f)), v, i)
				}
				if !d.green {
					add(fmt.Sprintf("%s kT %d", m, int(math.Min(d.kT/2, 6))), v, i)
				}
				late := (d.truth.RainMin - d.truth.OnsetMin.V) / d.truth.RainMin
				add(fmt.Sprintf("%s runs off share %.1f", m, math.Floor(late*5)/5), v, i)
			}
		}
		var names []string
		for n := range cells {
			names = append(names, n)
		}
		slices.Sort(names)
		fmt.Println("u_i", ui)
		for _, n := range names {
			fmt.Println(cells[n])
		}
	}
}

func TestVariants(t *testing.T) {
	if os.Getenv("VARIANTS") == "" {
		return
	}
	f := simulate.FieldInstruments()
	for _, in := range []struct {
		name string
		i    simulate.Instruments
	}{{"field", f}, {"no rounding", simulate.Instruments{VolumeRel: .005, VolumeML: 2, StopwatchMin: 1. / 60}},
		{"10 mL", simulate.Instruments{VolumeRel: .005, VolumeML: 2, StopwatchMin: 1. / 60, VolumeStepML: 10}},
		{"exact", simulate.Instruments{}},
		{"whole 5 s", simulate.Instruments{VolumeRel: .005, VolumeML: 2, StopwatchMin: 1. / 60, TimeStepMin: 5. / 60}},
	} {
		instruments = in.i
		r := rand.New(rand.NewPCG(3, 4))
		var ds []draw
		for range 4000 {
			d := makeDraw(r, 0)
			if d.truth.OnsetMin.OK && len(d.in.Intervals) > 0 {
				ds = append(ds, d)
			}
		}
		run := func(name string) {
			c, g, h := &cell{name: name}, &cell{name: name + " green"}, &cell{name: name + " horton"}
			w := &cell{name: name + " window"}
			ws := &cell{name: name + " window steady"}
			hs := &cell{name: name + " horton, when window steady"}
			start := time.Now()
			for _, d := range ds {
				a := infiltration.Steady(d.in)
				e := a.Horton
				if e.Censored != "" {
					continue
				}
				c.add(e.Value.V, e.Low.V, e.High.V, d.truth.CapacityMMH, d.in.IntensityMMH)
				if d.green {
					g.add(e.Value.V, e.Low.V, e.High.V, d.truth.CapacityMMH, d.in.IntensityMMH)
				} else {
					h.add(e.Value.V, e.Low.V, e.High.V, d.truth.CapacityMMH, d.in.IntensityMMH)
				}
				w.add(a.Window.Value.V, a.Window.Low.V, a.Window.High.V, d.truth.CapacityMMH, d.in.IntensityMMH)
				if !a.Window.Flags.Has("not_steady") {
					ws.add(a.Window.Value.V, a.Window.Low.V, a.Window.High.V, d.truth.CapacityMMH, d.in.IntensityMMH)
					hs.add(e.Value.V, e.Low.V, e.High.V, d.truth.CapacityMMH, d.in.IntensityMMH)
				}
			}
			fmt.Println(c, time.Since(start)/time.Duration(len(ds)))
			fmt.Println(g)
			fmt.Println(h)
			fmt.Println(w)
			fmt.Println(ws)
			fmt.Println(hs)
		}
		run(in.name)
	}
}
