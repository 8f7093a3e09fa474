package readings

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/ingest/readings/loggerfile"
	"sheetwash/ingest/table"
	"sheetwash/ingest/units"
)

// row is one reading whose numbers are short binary fractions, so that sums of
// them are exact in any order.
type row struct {
	run, plot string
	channel   experiment.Channel
	min, v    float64
}

func drawRows(t *rapid.T) []row {
	spread := rapid.SampledFrom([]int{4, 60, 4000}).Draw(t, "spread of times")
	rows := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) row {
		return row{
			run:     rapid.SampledFrom([]string{"A", "B", "a rather long name of a run"}).Draw(t, "run"),
			plot:    rapid.SampledFrom([]string{"", "1", "2"}).Draw(t, "plot"),
			channel: rapid.SampledFrom([]experiment.Channel{experiment.RunoffMass, experiment.RainRate}).Draw(t, "channel"),
			min:     float64(rapid.IntRange(-spread/4, spread).Draw(t, "eighth of a minute")) / 8,
			v:       float64(rapid.IntRange(-50, 4000).Draw(t, "quarter")) / 4,
		}
	}), 1, 120).Draw(t, "rows")
	if rapid.Bool().Draw(t, "by time") {
		slices.SortStableFunc(rows, func(a, b row) int { return int(8 * (a.min - b.min)) })
	}
	return rows
}

func csvOf(rows []row) string {
	var b strings.Builder
	b.WriteString(head)
	for _, r := range rows {
		unit := "g"
		if r.channel == experiment.RainRate {
			unit = "mm/h"
		}
		fmt.Fprintf(&b, "%s,%s,%s,%s,%s,%s\n", r.run, r.plot, strconv.FormatFloat(r.min, 'g', -1, 64), r.channel, strconv.FormatFloat(r.v, 'g', -1, 64), unit)
	}
	return b.String()
}

// plainly reduces in the most direct way: for one series, all readings into
// bins of one width.
func plainly(rows []row, width float64) map[string]map[int32]experiment.Bin {
	out := map[string]map[int32]experiment.Bin{}
	for _, r := range rows {
		key := r.run + "|" + r.plot + "|" + r.channel.String()
		if out[key] == nil {
			out[key] = map[int32]experiment.Bin{}
		}
		i := int32(math.Floor(r.min / width))
		dt := r.min - float64(i)*width
		b := out[key][i]
		b.Index = i
		b.N++
		b.SumT += dt
		b.SumV += r.v
		b.SumTT += dt * dt
		b.SumTV += dt * r.v
		out[key][i] = b
	}
	return out
}

// Any rows, in any order, batches and number of workers, with and without
// coarsening: the bins are those of the direct way, and first and last readings
// and counts are right.
func TestReduceIsTheDirectWay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := drawRows(t)
		csv := csvOf(rows)
		opt := Options{Unit: unitFor, MaxBins: rapid.SampledFrom([]int{0, 40, 20}).Draw(t, "bins")}
		var first *Reduced
		for _, workers := range []int{1, 3} {
			size := rapid.IntRange(1, 50).Draw(t, "batch")
			opt.Workers = workers
			got, err := Reduce(context.Background(), bind(textTable(csv, size, false), "min"), opt)
			if err != nil {
				t.Fatal(err)
			}
			checkPlainly(t, rows, got)
			if first == nil {
				first = got
			} else if !slices.EqualFunc(first.Series, got.Series, equalKeyed) || !slices.Equal(first.Issues.All(), got.Issues.All()) {
				t.Fatalf("%d workers, batches of %d:\n%+v %v\n%+v %v", workers, size, first.Series, first.Issues.All(), got.Series, got.Issues.All())
			}
		}
	})
}

func checkPlainly(t *rapid.T, rows []row, got *Reduced) {
	if len(got.Series) == 0 {
		t.Fatal("no series")
	}
	want := plainly(rows, got.Series[0].Series.BinMin)
	if len(got.Series) != len(want) {
		t.Fatalf("%d series, want %d", len(got.Series), len(want))
	}
	for _, s := range got.Series {
		bins := want[s.Run+"|"+s.Plot+"|"+s.Series.Channel.String()]
		if len(bins) != len(s.Series.Bins) {
			t.Fatalf("%d bins, want %d", len(s.Series.Bins), len(bins))
		}
		for i, b := range s.Series.Bins {
			if b != bins[b.Index] || i > 0 && b.Index <= s.Series.Bins[i-1].Index {
				t.Fatalf("bin %+v, want %+v", b, bins[b.Index])
			}
		}
		var firstAt, lastAt, row int
		n := int64(0)
		for i, r := range rows {
			if r.run != s.Run || r.plot != s.Plot || r.channel != s.Series.Channel {
				continue
			}
			if n++; n == 1 {
				firstAt, lastAt, row = i, i, i
			}
			if r.min < rows[firstAt].min {
				firstAt = i
			}
			if r.min >= rows[lastAt].min {
				lastAt = i
			}
		}
		want := experiment.Series{Channel: s.Series.Channel, BinMin: s.Series.BinMin, N: n,
			FirstMin: rows[firstAt].min, First: rows[firstAt].v, LastMin: rows[lastAt].min, Last: rows[lastAt].v,
			Place: experiment.Place{File: "day/readings", Row: int64(firstAt) + 2}, Bins: s.Series.Bins}
		if !equalKeyed(s, Keyed{Run: s.Run, Plot: s.Plot, Row: int64(row) + 2, Series: want}) {
			t.Fatalf("series %+v, want %+v", s, want)
		}
	}
}

// The same readings plot by plot and second by second give the same series, but
// for the order in which sums were taken.
func TestLoggerFile(t *testing.T) {
	var byPlot, byTime bytes.Buffer
	layout := loggerfile.Layout{Rows: 24_000, PerPlot: 1200}
	if err := loggerfile.Write(&byPlot, layout); err != nil {
		t.Fatal(err)
	}
	layout.TimeMajor = true
	if err := loggerfile.Write(&byTime, layout); err != nil {
		t.Fatal(err)
	}
	a := reduceText(t, byPlot.Bytes(), 2)
	b := reduceText(t, byTime.Bytes(), 1)
	if len(a.Series) != layout.Plots() || len(b.Series) != len(a.Series) || a.Rows != 24_000 || len(a.Issues.All()) != 0 {
		t.Fatalf("%d and %d series, %d rows, %v", len(a.Series), len(b.Series), a.Rows, a.Issues.All())
	}
	for i, s := range a.Series {
		o := b.Series[i]
		if s.Run != o.Run || s.Plot != o.Plot || s.Series.N != 1200 || o.Series.N != 1200 || s.Series.Last != o.Series.Last || len(s.Series.Bins) != 80 {
			t.Fatalf("%+v\n%+v", s, o)
		}
		for k, bin := range s.Series.Bins {
			other := o.Series.Bins[k]
			if bin.Index != other.Index || bin.N != 15 || math.Abs(bin.SumTV-other.SumTV) > 1e-9*math.Abs(bin.SumTV) {
				t.Fatalf("bin %+v, by time %+v", bin, other)
			}
		}
	}
}

func reduceText(t *testing.T, content []byte, workers int) *Reduced {
	t.Helper()
	tab, err := table.OpenText("readings.csv", "", bytes.NewReader(content), table.TextOptions{})
	if err != nil {
		t.Fatal(err)
	}
	out, err := Reduce(context.Background(), loggerfile.Bind(tab), Options{Workers: workers, Unit: loggerfile.Unit})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// Readings of one series against time, one after the other in the file's order
// or backwards, in bins far more than fit: memory is bounded and no reading lost.
func TestBackwards(t *testing.T) {
	var csv strings.Builder
	csv.WriteString(head)
	const n = 20_000
	for i := n; i > 0; i-- {
		csv.WriteString("R,1," + strconv.Itoa(i) + ",runoff_mass,1,g\n")
	}
	got := reduce(t, bind(textTable(csv.String(), 300, false), "s"), Options{Workers: 2, MaxBins: 500})
	s := got.Series[0].Series
	total := int32(0)
	for _, b := range s.Bins {
		total += b.N
	}
	if total != n || len(s.Bins) > 500 || s.BinMin != 1 || s.FirstMin != 1.0/60 || s.LastMin != n/60.0 {
		t.Errorf("%d readings in %d bins of %v min, %v to %v min", total, len(s.Bins), s.BinMin, s.FirstMin, s.LastMin)
	}
}

// For readings on a straight line v = a + b t the least-squares slope over any
// bins, (n sum tv - sum t sum v) / (n sum tt - (sum t)^2) with times moved to one
// origin, is b.
func TestSlope(t *testing.T) {
	var csv strings.Builder
	csv.WriteString(head)
	for i := range 600 {
		csv.WriteString("R,1," + strconv.Itoa(i) + ",runoff_mass," + strconv.FormatFloat(3+0.25*float64(i), 'g', -1, 64) + ",g\n")
	}
	bins := reduce(t, bind(textTable(csv.String(), 50, false), "s"), Options{}).Series[0].Series.Bins
	for from := range len(bins) - 4 {
		var all experiment.Bin
		for i, b := range bins[from : from+4] {
			shift(&b, float64(i)*DefaultBinMin)
			sum(&all, &b)
		}
		n := float64(all.N)
		slope := (n*all.SumTV - all.SumT*all.SumV) / (n*all.SumTT - all.SumT*all.SumT)
		if math.Abs(slope-15) > 1e-9 { // 0.25 g/s
			t.Errorf("slope from bin %d: %v g/min, want 15", from, slope)
		}
	}
}

// Where the short way to read h:mm:ss and mm:ss takes a cell, it gives the
// minutes that units.Time gives.
func TestElapsedIsUnitsTime(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		comma := rapid.Bool().Draw(t, "comma")
		cell := rapid.StringMatching(`[0-9]{1,3}:[0-9]{1,2}(:[0-9]{1,2})?([.,][0-9]{0,3})?`).Draw(t, "cell")
		got, ok := elapsed(cell, comma)
		want, err := units.Time(cell, units.TimeRule{Unit: quantity.MustParse("s"), DecimalComma: comma})
		if ok && (err != nil || math.Abs(got-want) > 1e-12*math.Max(1, want)) {
			t.Fatalf("%q: %v min; units.Time %v, %v", cell, got, want, err)
		}
	})
}
