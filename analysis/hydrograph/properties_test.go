package hydrograph_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/hydrograph"
	"sheetwash/analysis/result"
)

// drawBottles returns bottles end to end from the start of rain to its end.
func drawBottles(t *rapid.T) []experiment.Sample {
	n := rapid.IntRange(2, 12).Draw(t, "bottles")
	var out []experiment.Sample
	for i := range n {
		out = append(out, bottle(30*float64(i)/float64(n), 30*float64(i+1)/float64(n), float64(rapid.IntRange(0, 5000).Draw(t, "mL"))))
	}
	return out
}

func same(t *rapid.T, name string, got, want float64) {
	if math.Abs(got-want) > 1e-9*(1+math.Abs(want)) {
		t.Fatalf("%s: %v, want %v", name, got, want)
	}
}

func TestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		samples := drawBottles(t)
		h := runoff(plotOf(samples...), def)
		q, f, c := h.Depth(), h.InfiltrationDepth(), h.Coefficient()
		same(t, "rain = runoff + infiltration", q.Value.V+f.Value.V, rain.DepthMM)
		same(t, "coefficient", c.Value.V, q.Value.V/rain.DepthMM)

		var depth float64
		for _, r := range h.Steps(nil) {
			depth += r.RateMMH * (r.EndMin - r.StartMin) / 60
			same(t, "running depth", r.CumulativeMM, depth)
			same(t, "infiltration", r.InfiltrationMMH.V, r.IntensityMMH-r.RateMMH)
		}
		same(t, "depth of the steps", depth, q.Value.V)

		// Ten times the water on ten times the area is the same depth.
		large := plotOf()
		large.AreaM2 = 10
		for _, s := range samples {
			large.Samples = append(large.Samples, bottle(s.StartMin, s.EndMin, 10*s.VolumeML.V))
		}
		big := runoff(large, def)
		same(t, "depth by area", big.Depth().Value.V, q.Value.V)

		// The order of the rows does not matter.
		mixed := append([]experiment.Sample(nil), samples...)
		rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1)).Shuffle(len(mixed), func(i, j int) { mixed[i], mixed[j] = mixed[j], mixed[i] })
		other := runoff(plotOf(mixed...), def)
		same(t, "depth by order", other.Depth().Value.V, q.Value.V)
		same(t, "u by order", other.Depth().U.V, q.U.V)

		// Two bottles poured together hold the same depth.
		k := rapid.IntRange(0, len(samples)-2).Draw(t, "merge")
		merged := append([]experiment.Sample(nil), samples[:k]...)
		merged = append(merged, bottle(samples[k].StartMin, samples[k+1].EndMin, samples[k].VolumeML.V+samples[k+1].VolumeML.V))
		merged = append(merged, samples[k+2:]...)
		poured := runoff(plotOf(merged...), def)
		same(t, "depth after pouring together", poured.Depth().Value.V, q.Value.V)
	})
}

// Whatever the rows, the course is without gaps or reversals and its numbers are
// finite; nothing panics.
func TestAnyRows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := plotOf()
		at := 0.0
		for range rapid.IntRange(0, 10).Draw(t, "rows") {
			at += rapid.SampledFrom([]float64{0, 0, 0, 2, -1, 5}).Draw(t, "gap")
			d := rapid.SampledFrom([]float64{0.1, 1, 5, 12}).Draw(t, "length")
			s := bottle(max(at, 0), max(at, 0)+d, float64(rapid.IntRange(0, 3000).Draw(t, "mL")))
			s.VolumeML.OK = rapid.IntRange(0, 4).Draw(t, "read") > 0
			s.Flag = experiment.Flag(rapid.SampledFrom([]int{0, 0, 0, 1, 2, 3, 4, 5}).Draw(t, "flag"))
			s.Exclude = rapid.IntRange(0, 6).Draw(t, "exclude") == 0
			p.Samples = append(p.Samples, s)
			at = s.EndMin
		}
		p.Onset = experiment.Onset(rapid.IntRange(0, 2).Draw(t, "onset"))
		p.OnsetMin = rapid.Float64Range(0, 40).Draw(t, "onset at")
		h := runoff(p, def)
		end := 0.0
		for _, iv := range h.Intervals {
			if math.Abs(iv.StartMin-end) > 1e-6 || !(iv.EndMin > iv.StartMin) {
				t.Fatalf("interval from %v to %v after %v", iv.StartMin, iv.EndMin, end)
			}
			end = iv.EndMin
			for _, v := range []float64{iv.VolumeML, iv.UVolumeML, iv.RateMMH, iv.URateMMH} {
				if math.IsNaN(v) || math.IsInf(v, 0) || v < 0 {
					t.Fatalf("interval %+v", iv)
				}
			}
		}
		if h.Status != hydrograph.NoData && end < rain.DurationMin-3.0/60 {
			t.Fatalf("the course ends at %v min", end)
		}
		for _, r := range h.AppendRows(nil, result.PlotRow{Level: 0.95}) {
			if !r.Value.OK && len(r.Flags) == 0 {
				t.Fatalf("%s by %s has no value and does not say why", r.Metric, r.Method)
			}
			if r.Low.OK && r.High.OK && !(r.Low.V <= r.Value.V && r.Value.V <= r.High.V) {
				t.Fatalf("%s by %s: %v not between %v and %v", r.Metric, r.Method, r.Value.V, r.Low.V, r.High.V)
			}
		}
	})
}

// Whatever a logger wrote, the course is in order, its numbers are finite, and
// nothing panics.
func TestAnyReadings(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := experiment.Series{Channel: experiment.Channel(rapid.IntRange(0, 5).Draw(t, "channel")), BinMin: rapid.SampledFrom([]float64{1.0 / 60, 0.1, 0.25, 1, 5}).Draw(t, "bin")}
		s.VolumeRate = rapid.Bool().Draw(t, "volume rate")
		at, v := rapid.IntRange(-30, 100).Draw(t, "from"), 0.0
		for range rapid.IntRange(0, 60).Draw(t, "bins") {
			at += rapid.SampledFrom([]int{1, 1, 1, 1, 2, 9, 300}).Draw(t, "step")
			v += rapid.Float64Range(-50, 500).Draw(t, "change")
			n := rapid.IntRange(1, 4).Draw(t, "n")
			b := experiment.Bin{Index: int32(at), N: int32(n)}
			for k := range n {
				d := s.BinMin * (float64(k) + 0.5) / float64(n)
				b.SumT, b.SumV, b.SumTT, b.SumTV = b.SumT+d, b.SumV+v, b.SumTT+d*d, b.SumTV+d*v
			}
			s.Bins = append(s.Bins, b)
			s.N += int64(n)
		}
		if n := len(s.Bins); n > 0 {
			s.FirstMin, s.LastMin = float64(s.Bins[0].Index)*s.BinMin, float64(s.Bins[n-1].Index+1)*s.BinMin
		}
		p := &experiment.Plot{ID: "p", AreaM2: 1, Series: []experiment.Series{s}}
		if rapid.Bool().Draw(t, "bottles") {
			p.Samples = drawBottles(t)
		}
		for _, h := range []hydrograph.Hydrograph{runoff(p, def), hydrograph.OfDrainage(&experiment.Run{RainMin: 30}, p, rain, def, hydrograph.DefaultSettings())} {
			end := 0.0
			for _, iv := range h.Intervals {
				if math.Abs(iv.StartMin-end) > 1e-6 || !(iv.EndMin > iv.StartMin) {
					t.Fatalf("interval from %v to %v after %v", iv.StartMin, iv.EndMin, end)
				}
				end = iv.EndMin
				for _, v := range []float64{iv.VolumeML, iv.UVolumeML, iv.RateMMH, iv.URateMMH} {
					if math.IsNaN(v) || math.IsInf(v, 0) {
						t.Fatalf("interval %+v", iv)
					}
				}
			}
			for _, r := range h.AppendRows(nil, result.PlotRow{Level: 0.95}) {
				if !r.Value.OK && len(r.Flags) == 0 {
					t.Fatalf("%s by %s has no value and does not say why", r.Metric, r.Method)
				}
			}
		}
	})
}

func BenchmarkPlot(b *testing.B) {
	p := plotOf()
	for i := range 30 {
		p.Samples = append(p.Samples, bottle(float64(i), float64(i+1), float64(20*i)))
	}
	p.Onset, p.OnsetMin = experiment.OnsetNoted, 1.5
	run := experiment.Run{RainMin: 30}
	rows := make([]result.PlotRow, 0, 16)
	b.ReportAllocs()
	for b.Loop() {
		h := hydrograph.Of(&run, p, rain, def, hydrograph.DefaultSettings())
		rows = h.AppendRows(rows[:0], result.PlotRow{Level: 0.95})
		h.Steps(nil)
	}
}
