package cli

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"sheetwash/analysis/simulate"
)

// BenchmarkSeasonModels analyzes a simulated season of 10,000 plots of 30 bottles, with the seven
// infiltration models of every plot and without: what a user waits for.
func BenchmarkSeasonModels(b *testing.B) {
	dir := b.TempDir()
	const runs, plots, bottles = 500, 20, 30
	writeSimulated(b, dir, runs, plots, bottles)
	for name, flags := range map[string][]string{"without models": nil, "with models": {"--models"}} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				args := append([]string{"analyze", dir, "--out", filepath.Join(b.TempDir(), "results"), "--quiet"}, flags...)
				if got := runWith(b.Context(), "", args...); got.code != exitDone {
					b.Fatalf("exit %d\n%s", got.code, got.err)
				}
			}
			b.ReportMetric(float64(runs*plots)*float64(b.N)/b.Elapsed().Seconds(), "plots/s")
		})
	}
}

// writeSimulated writes the tables of a season of plots with Horton, Green-Ampt and
// Smith-Parlange soils.
func writeSimulated(b *testing.B, dir string, runs, plots, bottles int) {
	b.Helper()
	random := rand.New(rand.NewPCG(3, 3))
	between := func(low, high float64) float64 { return low + (high-low)*random.Float64() }
	var r, p, s bytes.Buffer
	r.WriteString("run,event,intensity [mm/h],rain_duration [min]\n")
	p.WriteString("run,plot,treatment,area [m2],runoff_start [min]\n")
	s.WriteString("run,plot,stream,start [min],end [min],volume [mL],sediment_mass [g]\n")
	for i := range runs {
		const intensity, minutes = 70, 40
		fmt.Fprintf(&r, "R%d,E%d,%d,%d\n", i, i/20, intensity, minutes)
		for k := range plots {
			plot := simulate.Plot{
				AreaM2: 0.5, Rain: simulate.ConstantRain(intensity, minutes), DepressionMM: between(0.5, 2), RecessionMin: 3, ReservoirMin: between(0, 0.8), StepS: 2,
				ConcentrationGL: between(3, 12), ConcentrationEndGL: between(1, 3), DeclinePerH: 4,
			}
			switch k % 3 {
			case 0:
				plot.Soil = simulate.Horton{F0: intensity * between(1.05, 2), Fc: between(5, 30), K: between(4, 15)}
			case 1:
				plot.Soil = simulate.GreenAmpt{K: between(5, 30), PsiTheta: between(5, 25)}
			default:
				plot.Soil = simulate.SmithParlange{K: between(5, 30), G: between(5, 25)}
			}
			truth := plot.Simulate()
			onset := ""
			if truth.OnsetMin.OK {
				onset = fmt.Sprintf("%.2f", truth.OnsetMin.V)
			}
			id := i*plots + k // no two runs share a plot
			fmt.Fprintf(&p, "R%d,%d,T%d,0.5,%s\n", i, id, k%5, onset)
			for _, bottle := range truth.Collect(simulate.Schedule{N: bottles, AtOnset: true}, simulate.FieldInstruments(), random) {
				fmt.Fprintf(&s, "R%d,%d,runoff,%.3f,%.3f,%.0f,%.2f\n", i, id, bottle.StartMin, math.Min(bottle.EndMin, minutes), bottle.VolumeML, bottle.SedimentG)
			}
		}
	}
	for name, data := range map[string][]byte{"runs.csv": r.Bytes(), "plots.csv": p.Bytes(), "samples.csv": s.Bytes()} {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o600); err != nil {
			b.Fatal(err)
		}
	}
}
