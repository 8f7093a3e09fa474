// Command service measures the HTTP service: a page of a result table against a
// bare handler that returns the same bytes, the time to an answer at a steady rate,
// the memory of a large upload, and an analysis that is asked for and answered at
// once. docs/performance.md says what it found.
//
//	go build -o sheetwash ./cmd/sheetwash
//	go run ./docs/bench/service ./sheetwash        # needs wrk on the path
//
// Everything listens on the loopback address and lies in a temporary folder.
package main

import (
	"errors"
	"flag"
	"fmt"
	"os"
	"time"
)

func main() {
	runs := flag.Int("runs", 10_000, "runs that are stored")
	seconds := flag.Int("seconds", 4, "of each round of the throughput")
	rounds := flag.Int("rounds", 5, "of the throughput, by turns")
	megabytes := flag.Int("upload", 100, "MB of the large upload")
	flag.Parse()
	if err := measure(flag.Arg(0), *runs, *rounds, *megabytes, time.Duration(*seconds)*time.Second); err != nil {
		fmt.Fprintln(os.Stderr, "service:", err)
		os.Exit(1)
	}
}

func measure(program string, runs, rounds, megabytes int, each time.Duration) error {
	if program == "" {
		return errors.New("say which program to measure")
	}
	s, err := start(program)
	if err != nil {
		return err
	}
	defer s.stop()
	fmt.Printf("ready after %v\n", s.ready.Round(time.Millisecond))
	const perReading, perBottle, bottlesOfRun = 35, 45, 12 * 60 // bytes, about
	if err := s.upload("readings", readings(megabytes*1e6/perReading)); err != nil {
		return err
	}
	if err := s.upload("bottles", bottles(megabytes*1e6/perBottle/bottlesOfRun, 12, 60)); err != nil {
		return err
	}
	analysis, err := s.store(runs)
	if err != nil {
		return err
	}
	if err := throughput(s, "/v1/analyses/"+analysis+"/plot_results?limit=100", rounds, each); err != nil {
		return err
	}
	if err := steady(s, "/v1/analyses/"+analysis+"/plot_results?limit=100", 200, 20*time.Second); err != nil {
		return err
	}
	return s.analyzeAtOnce(100)
}
