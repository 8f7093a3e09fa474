// Command reduce is the whole process that docs/performance.md compares: it
// writes an invented logger file, or reads one and reduces it per run, plot and
// channel, and prints what it took.
//
//	go run ./docs/bench/reduce write -rows 5000000 readings.csv
//	go run ./docs/bench/reduce read readings.csv
package main

import (
	"context"
	"crypto/sha256"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"runtime"
	"time"

	"sheetwash/ingest/readings"
	"sheetwash/ingest/readings/loggerfile"
	"sheetwash/ingest/table"
)

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func run(args []string) error {
	if len(args) == 0 {
		return errors.New("usage: reduce write|read [flags] FILE")
	}
	flags := flag.NewFlagSet(args[0], flag.ExitOnError)
	rows := flags.Int("rows", 5_000_000, "rows to write")
	perPlot := flags.Int("perplot", 3600, "readings of a plot")
	timeMajor := flags.Bool("timemajor", false, "write all plots of one second, then the next")
	workers := flags.Int("workers", runtime.GOMAXPROCS(0), "goroutines that cut and reduce")
	digest := flags.Bool("sha256", true, "hash the file while it is read, as ingest does")
	if err := flags.Parse(args[1:]); err != nil {
		return err
	}
	if flags.NArg() != 1 {
		return errors.New("name one file")
	}
	if args[0] == "write" {
		return write(flags.Arg(0), loggerfile.Layout{Rows: *rows, PerPlot: *perPlot, TimeMajor: *timeMajor})
	}
	return read(flags.Arg(0), *workers, *digest)
}

func write(path string, l loggerfile.Layout) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	if err := loggerfile.Write(f, l); err != nil {
		return errors.Join(err, f.Close())
	}
	return f.Close()
}

func read(path string, workers int, digest bool) error {
	begun := time.Now()
	var f io.ReadCloser
	f, err := os.Open(path)
	if path == "-" {
		f, err = os.Stdin, nil
	}
	if err != nil {
		return err
	}
	defer f.Close()
	var in io.Reader = f
	sum := sha256.New()
	if digest {
		in = io.TeeReader(f, sum)
	}
	count := &counter{r: in}
	t, err := table.OpenText(path, "readings", count, table.TextOptions{})
	if err != nil {
		return err
	}
	defer t.Close()
	got, err := readings.Reduce(context.Background(), loggerfile.Bind(t), readings.Options{Workers: workers, Unit: loggerfile.Unit})
	if err != nil {
		return err
	}
	took := time.Since(begun)
	processor, peakMB := usage()
	fmt.Printf("%d rows, %d series, %d findings, %.3f s (processor %.3f s), %.1f million rows/s, %.0f MB/s, peak %.0f MB, sha256 %x\n",
		got.Rows, len(got.Series), len(got.Issues.All()), took.Seconds(), processor, float64(got.Rows)/took.Seconds()/1e6,
		float64(count.n)/took.Seconds()/1e6, peakMB, sum.Sum(nil)[:4])
	return nil
}

type counter struct {
	r io.Reader
	n int64
}

func (c *counter) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	c.n += int64(n)
	return n, err
}
