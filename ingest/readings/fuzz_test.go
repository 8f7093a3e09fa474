package readings

import (
	"bytes"
	"context"
	"math"
	"slices"
	"testing"
	"time"

	"sheetwash/ingest/readings/loggerfile"
	"sheetwash/ingest/table"
)

// Whatever the rows: no panic, no NaN, every bin filled, and no difference
// between one worker and two.
func FuzzReduce(f *testing.F) {
	f.Add([]byte("R,1,0,runoff_mass,1,g\nR,1,1:30,runoff_mass,2,kg\n"), 10)
	f.Add([]byte("R,,2031-05-14T10:06:00Z,rain_rate,1e308,in/h\nR,,-5,rain_rate,NaN,\n"), 0)
	f.Add([]byte("R,1,1e5,x,1,g\nS,2,,runoff_rate,-99,L/min\n,\"1\n\",0,runoff_mass,1e999,g\n"), 1)
	f.Fuzz(func(t *testing.T, content []byte, maxBins int) {
		content = append([]byte(head), content...)
		opt := Options{MaxBins: max(1, maxBins), Unit: loggerfile.Unit, Start: func(run string) (time.Time, bool) {
			return time.Date(2031, 5, 14, 10, 5, 0, 0, time.UTC), run == "R"
		}}
		var got [2]*Reduced
		for i := range got {
			tab, err := table.OpenText("x.csv", "", bytes.NewReader(content), table.TextOptions{})
			if err != nil {
				t.Fatal(err)
			}
			opt.Workers = i + 1
			bound := loggerfile.Bind(tab)
			if len(bound.Bindings) != 6 {
				return
			}
			if got[i], err = Reduce(context.Background(), bound, opt); err != nil {
				t.Fatal(err)
			}
		}
		if !slices.EqualFunc(got[0].Series, got[1].Series, equalKeyed) || !slices.Equal(got[0].Issues.All(), got[1].Issues.All()) {
			t.Fatalf("workers matter:\n%+v\n%+v", got[0], got[1])
		}
		for _, s := range got[0].Series {
			n := int64(0)
			for _, b := range s.Series.Bins {
				n += int64(b.N)
				if b.N < 1 || math.IsNaN(b.SumT+b.SumTT+b.SumV+b.SumTV) || math.IsInf(b.SumT+b.SumTT+b.SumV+b.SumTV, 0) {
					t.Fatalf("bin %+v", b)
				}
			}
			if n != s.Series.N || s.Series.FirstMin > s.Series.LastMin || s.Run == "" {
				t.Fatalf("series %+v", s)
			}
		}
	})
}
