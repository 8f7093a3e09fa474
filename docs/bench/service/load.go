package main

import (
	"fmt"
	"io"
	"net"
	"net/http"
	"os/exec"
	"regexp"
	"slices"
	"strconv"
	"sync"
	"time"

	"github.com/gin-gonic/gin"
)

// throughput compares the service with a bare handler of the same router that
// returns the same bytes, by turns.
func throughput(s *server, path string, rounds int, each time.Duration) error {
	r, err := http.Get(s.url + path)
	if err != nil {
		return err
	}
	defer r.Body.Close()
	page, err := io.ReadAll(r.Body)
	if err != nil {
		return err
	}
	gin.SetMode(gin.ReleaseMode)
	router := gin.New()
	router.GET("/page", func(c *gin.Context) { c.Data(http.StatusOK, r.Header.Get("Content-Type"), page) })
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return err
	}
	bare := &http.Server{Handler: router}
	go func() { _ = bare.Serve(l) }()
	defer bare.Close()
	etag := r.Header.Get("ETag")
	var whole, unchanged, alone []float64
	for range rounds {
		for _, m := range []struct {
			into *[]float64
			args []string
		}{
			{&alone, []string{"http://" + l.Addr().String() + "/page"}},
			{&whole, []string{s.url + path}},
			{&unchanged, []string{"-H", "If-None-Match: " + etag, s.url + path}},
		} {
			rate, err := wrk(each, m.args...)
			if err != nil {
				return err
			}
			*m.into = append(*m.into, rate)
		}
	}
	fmt.Printf("page of 100 rows, %d bytes: bare handler %.0f/s, service %.0f/s, unchanged (304) %.0f/s\n", len(page), median(alone), median(whole), median(unchanged))
	fmt.Printf("share of the bare handler, median of %d pairs: %.2f; unchanged %.2f\n", rounds, median(ratios(whole, alone)), median(ratios(unchanged, alone)))
	return nil
}

var requests = regexp.MustCompile(`Requests/sec:\s+([0-9.]+)`)
var failures = regexp.MustCompile(`Non-2xx or 3xx responses: \d+|Socket errors: .*`)

func wrk(each time.Duration, args ...string) (float64, error) {
	args = append([]string{"-t1", "-c16", fmt.Sprintf("-d%ds", int(each.Seconds()))}, args...)
	text, err := exec.Command("wrk", args...).CombinedOutput()
	if err != nil {
		return 0, fmt.Errorf("wrk: %w: %s", err, text)
	}
	if bad := failures.Find(text); bad != nil {
		return 0, fmt.Errorf("wrk: %s", bad)
	}
	m := requests.FindSubmatch(text)
	if m == nil {
		return 0, fmt.Errorf("wrk says %s", text)
	}
	return strconv.ParseFloat(string(m[1]), 64)
}

func ratios(a, b []float64) []float64 {
	out := make([]float64, len(a))
	for i := range a {
		out[i] = a[i] / b[i]
	}
	return out
}

func median(x []float64) float64 {
	x = slices.Sorted(slices.Values(x))
	return x[len(x)/2]
}

// steady asks for pages at a fixed rate, whether answers come or not, and tells
// how long they took from when they were due.
func steady(s *server, path string, perSecond int, length time.Duration) error {
	var mutex sync.Mutex
	var took []time.Duration
	var failed error
	var wg sync.WaitGroup
	ticks := time.NewTicker(time.Second / time.Duration(perSecond))
	defer ticks.Stop()
	for end := time.Now().Add(length); time.Now().Before(end); {
		due := <-ticks.C
		wg.Go(func() {
			r, err := http.Get(s.url + path)
			if err == nil {
				_, err = io.Copy(io.Discard, r.Body)
				r.Body.Close()
				if err == nil && r.StatusCode != http.StatusOK {
					err = fmt.Errorf("%s: %s", path, r.Status)
				}
			}
			mutex.Lock()
			defer mutex.Unlock()
			took = append(took, time.Since(due))
			if err != nil {
				failed = err
			}
		})
	}
	wg.Wait()
	if failed != nil {
		return failed
	}
	slices.Sort(took)
	fmt.Printf("%d requests at %d/s: median %v, p99 %v, slowest %v\n", len(took), perSecond, took[len(took)/2].Round(10*time.Microsecond),
		took[len(took)*99/100].Round(10*time.Microsecond), took[len(took)-1].Round(10*time.Microsecond))
	return nil
}
