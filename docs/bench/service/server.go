package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"
)

// server is the program under measurement.
type server struct {
	*exec.Cmd
	dir, url string
	ready    time.Duration
	log      *os.File // as the service logs each request, to a file
}

// freeAddress is a loopback address on which nothing listens at this moment.
func freeAddress() (string, error) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return "", err
	}
	defer l.Close()
	return l.Addr().String(), nil
}

func start(program string) (*server, error) {
	dir, err := os.MkdirTemp("", "service-")
	if err != nil {
		return nil, err
	}
	address, err := freeAddress()
	if err != nil {
		return nil, err
	}
	metrics, err := freeAddress()
	if err != nil {
		return nil, err
	}
	s := &server{dir: dir, url: "http://" + address}
	s.Cmd = exec.Command(program, "serve", "--data", filepath.Join(dir, "data"), "--listen", address, "--metrics", metrics)
	// The limits of rate are for strangers; a measurement wants to know what lies beyond.
	s.Env = append(os.Environ(), "SHEETWASH_LIMIT_READS_PER_SECOND=1000000", "SHEETWASH_LIMIT_READ_BURST=1000000", "SHEETWASH_LIMIT_WRITES_PER_SECOND=1000000", "SHEETWASH_LIMIT_WRITE_BURST=1000000", "SHEETWASH_LIMIT_ANALYSIS_RUNS=100000")
	if s.log, err = os.Create(filepath.Join(dir, "log")); err != nil {
		return nil, err
	}
	s.Stderr = s.log
	begun := time.Now()
	if err := s.Start(); err != nil {
		return nil, err
	}
	for time.Since(begun) < 20*time.Second {
		if r, err := http.Get(s.url + "/readyz"); err == nil {
			r.Body.Close()
			if r.StatusCode == http.StatusOK {
				s.ready = time.Since(begun)
				return s, nil
			}
		}
		time.Sleep(5 * time.Millisecond)
	}
	said, _ := os.ReadFile(s.log.Name())
	s.stop()
	return nil, fmt.Errorf("the service is not ready after 20 s:\n%s", said)
}

func (s *server) stop() {
	_ = s.Process.Signal(os.Interrupt)
	_ = s.Wait()
	_ = s.log.Close()
	os.RemoveAll(s.dir)
}

// call sends a request and reads a JSON answer.
func (s *server) call(method, path, contentType string, body io.Reader, into any) error {
	q, err := http.NewRequest(method, s.url+path, body)
	if err != nil {
		return err
	}
	q.Header.Set("Content-Type", contentType)
	r, err := http.DefaultClient.Do(q)
	if err != nil {
		return err
	}
	defer r.Body.Close()
	text, err := io.ReadAll(r.Body)
	if err != nil {
		return err
	}
	if r.StatusCode >= 300 {
		return fmt.Errorf("%s %s: %s: %.400s", method, path, r.Status, text)
	}
	if into == nil {
		return nil
	}
	return json.Unmarshal(text, into)
}

// store uploads a season of runs of two plots, one joined table, analyses it, and
// returns the id of the analysis.
func (s *server) store(runs int) (string, error) {
	var season, dataset struct{ ID string }
	if err := s.call("POST", "/v1/seasons", "application/json", strings.NewReader(`{"name":"2031","time_zone":"UTC"}`), &season); err != nil {
		return "", err
	}
	begun := time.Now()
	if err := s.call("POST", "/v1/datasets?name=large&season="+season.ID, "text/csv", bottles(runs, 2, 8), &dataset); err != nil {
		return "", err
	}
	uploaded := time.Since(begun)
	var a struct {
		ID, State string
		Problem   json.RawMessage
	}
	if err := s.call("POST", "/v1/analyses", "application/json", strings.NewReader(`{"datasets":["`+dataset.ID+`"]}`), &a); err != nil {
		return "", err
	}
	for a.State == "accepted" || a.State == "running" {
		time.Sleep(50 * time.Millisecond)
		if err := s.call("GET", "/v1/analyses/"+a.ID, "", nil, &a); err != nil {
			return "", err
		}
	}
	if a.State != "successful" {
		return "", fmt.Errorf("the analysis is %s: %s", a.State, a.Problem)
	}
	fmt.Printf("%d runs of 2 plots stored: upload %v, with its analysis %v\n", runs, uploaded.Round(time.Millisecond), time.Since(begun).Round(time.Millisecond))
	return a.ID, nil
}

// analyzeAtOnce times the analysis of 12 plots in one call.
func (s *server) analyzeAtOnce(times int) error {
	data, err := io.ReadAll(bottles(3, 4, 8))
	if err != nil {
		return err
	}
	var took []time.Duration
	for range times {
		begun := time.Now()
		if err := s.call("POST", "/v1/analyze?name=day", "text/csv", bytes.NewReader(data), nil); err != nil {
			return err
		}
		took = append(took, time.Since(begun))
	}
	slices.Sort(took)
	fmt.Printf("12 plots analyzed at once: median %v, slowest of %d %v\n", took[times/2].Round(100*time.Microsecond), times, took[times-1].Round(100*time.Microsecond))
	return nil
}

// upload sends a large file and tells the most memory that the service had since
// its start.
func (s *server) upload(what string, body io.Reader) error {
	begun := time.Now()
	var size counter
	err := s.call("POST", "/v1/datasets?dry_run=true&name=huge", "text/csv", io.TeeReader(body, &size), nil)
	if err != nil {
		return err
	}
	took := time.Since(begun)
	peak, err := s.peakMB()
	if err != nil {
		return err
	}
	fmt.Printf("upload of %.0f MB of %s checked in %v; most memory since the start %d MB\n", float64(size)/1e6, what, took.Round(time.Millisecond), peak)
	return nil
}

type counter int64

func (c *counter) Write(p []byte) (int, error) { *c += counter(len(p)); return len(p), nil }

// peakMB is the largest resident size of the service since its start.
func (s *server) peakMB() (int, error) {
	f, err := os.Open(fmt.Sprintf("/proc/%d/status", s.Process.Pid))
	if err != nil {
		return 0, err
	}
	defer f.Close()
	for lines := bufio.NewScanner(f); lines.Scan(); {
		if kb, ok := strings.CutPrefix(lines.Text(), "VmHWM:"); ok {
			n, err := strconv.Atoi(strings.TrimSuffix(strings.TrimSpace(kb), " kB"))
			return n / 1024, err
		}
	}
	return 0, fmt.Errorf("the system does not tell the memory of process %d", s.Process.Pid)
}

// bottles writes one joined table of runs with plots of bottles from the onset on.
func bottles(runs, plots, perPlot int) io.Reader {
	r, w := io.Pipe()
	go func() {
		b := bufio.NewWriter(w)
		fmt.Fprintln(b, "run,event,plot,treatment,area [m2],intensity [mm/h],rain_duration [min],stream,start [min],end [min],volume [mL],sediment_mass [g]")
		for run := range runs {
			for plot := range plots {
				for n := range perPlot {
					start := 4 + 3*float64(n)
					fmt.Fprintf(b, "R%d,E%d,%d,T%d,0.5,70,%d,runoff,%g,%g,%d,%.2f\n", run, run/100, run*plots+plot, plot%5, 4+3*perPlot,
						start, start+3, 400+n*150+(run*7+plot*3+n*11)%40, 1.5+float64((run+n)%9)/10)
				}
			}
		}
		w.CloseWithError(b.Flush())
	}()
	return r
}

// readings writes one joined table of a logger at ten plots.
func readings(rows int) io.Reader {
	r, w := io.Pipe()
	go func() {
		b := bufio.NewWriter(w)
		fmt.Fprintln(b, "run,event,plot,treatment,area [m2],intensity [mm/h],rain_duration [min],time [s],channel,value")
		for i := range rows {
			second := i / 10
			fmt.Fprintf(b, "R1,E1,%d,T%d,0.5,70,%d,%d,runoff_mass,%.1f\n", i%10, i%3, rows/600+1, second, float64(second)*(0.5+float64(i%10)/20))
		}
		w.CloseWithError(b.Flush())
	}()
	return r
}
