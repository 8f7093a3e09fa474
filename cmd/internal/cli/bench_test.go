package cli

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// BenchmarkSeason analyzes a season of 10,000 plots with 30 bottles each, from
// CSV to the seven tables on the disk: 500 runs in 25 events, five treatments, a
// declining capacity, bottles from the first runoff on.
func BenchmarkSeason(b *testing.B) {
	dir := b.TempDir()
	size := writeSeason(b, dir, 500, 20, 30)
	b.SetBytes(size)
	for b.Loop() {
		if got := runWith(b.Context(), "", "analyze", dir, "--out", filepath.Join(b.TempDir(), "results"), "--quiet"); got.code != exitDone {
			b.Fatalf("exit %d\n%s", got.code, got.err)
		}
	}
	b.ReportMetric(float64(500*20*30)*float64(b.N)/b.Elapsed().Seconds(), "bottles/s")
}

// writeSeason writes the tables of a season and returns their size.
func writeSeason(b *testing.B, dir string, runs, plots, bottles int) int64 {
	b.Helper()
	random := rand.New(rand.NewPCG(1, 1))
	var r, p, s bytes.Buffer
	r.WriteString("run,event,intensity [mm/h],rain_duration [min]\n")
	p.WriteString("run,plot,treatment,area [m2],runoff_start [min]\n")
	s.WriteString("run,plot,stream,start [min],end [min],volume [mL],sediment_mass [g]\n")
	for i := range runs {
		fmt.Fprintf(&r, "R%d,E%d,70,60\n", i, i/20)
		for k := range plots {
			plot := i*plots + k // no two runs share a plot
			onset := 5 + 3*random.Float64()
			fmt.Fprintf(&p, "R%d,%d,T%d,0.5,%.2f\n", i, plot, k%5, onset)
			writeBottles(&s, random, "R"+strconv.Itoa(i)+","+strconv.Itoa(plot)+",runoff,", onset, bottles)
		}
	}
	var size int64
	for name, data := range map[string][]byte{"runs.csv": r.Bytes(), "plots.csv": p.Bytes(), "samples.csv": s.Bytes()} {
		size += int64(len(data))
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o600); err != nil {
			b.Fatal(err)
		}
	}
	return size
}

// writeBottles fills bottles of equal length from the onset to the end of rain.
func writeBottles(s *bytes.Buffer, random *rand.Rand, key string, onset float64, bottles int) {
	round := func(v float64) float64 { return math.Round(v*1000) / 1000 }
	start := onset
	for n := range bottles {
		end := round(onset + (60-onset)*float64(n+1)/float64(bottles))
		capacity := 20 + 50*math.Exp(-6*((start+end)/2-onset)/60)
		volume := (70 - capacity) * 0.5 * (end - start) * 1000 / 60 * (1 + 0.005*random.NormFloat64())
		fmt.Fprintf(s, "%s%.3f,%.3f,%.0f,%.2f\n", key, start, end, volume, volume*0.004)
		start = end
	}
}
