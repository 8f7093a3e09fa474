package api_test

import (
	"archive/zip"
	"bufio"
	"bytes"
	"fmt"
	"io"
	"net"
	"net/http"
	"runtime"
	"strings"
	"testing"
	"time"

	"sheetwash/api"
)

// Callers who begin and do not go on, in each way in which that can be done, keep
// nobody from an answer, and nothing of them stays.
func TestStalledCallersKeepNobodyWaiting(t *testing.T) {
	s := newService(t, func(o *api.Options) {
		o.Limits.HeaderTime, o.Limits.IdleTime, o.Limits.StallTime = time.Second, time.Second, time.Second
		o.Limits.JSONTime, o.Limits.StreamTime, o.Limits.HeartbeatTime = 8*time.Second, time.Second, 100*time.Millisecond
		o.Limits.Uploads, o.Limits.Streams = 1000, 1000
	})
	season, id := s.analysed("09-tarn-gate")
	s.jobs.hold = make(chan struct{})
	waits := s.post("/v1/analyses", map[string]any{"season": season}).want(202).id()
	address, stop := s.serve()
	before := runtime.NumGoroutine()
	ways := []string{
		"GET /v1/seasons HTTP/1.1\r\nHost: localhost\r\nX-Slow: ", // a header that does not end
		"POST /v1/datasets?season=" + season + "&name=%d HTTP/1.1\r\nHost: localhost\r\nContent-Type: text/csv\r\nContent-Length: 900000\r\n\r\nplot,",
		"POST /v1/analyses HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\nContent-Length: 9000\r\n\r\n{",
		"GET /v1/analyses/" + waits + "/events HTTP/1.1\r\nHost: localhost\r\n\r\n",                                // a stream that nobody reads
		strings.Repeat("GET /v1/analyses/"+id+"/hydrograph?limit=1000 HTTP/1.1\r\nHost: localhost\r\n\r\n", 100),   // from memory, and nobody reads
		strings.Repeat("GET /v1/analyses/"+id+"/hydrograph?format=csv HTTP/1.1\r\nHost: localhost\r\n\r\n", 5), "", // nothing at all
	}
	const callers = 500
	for i := range callers {
		c, err := net.Dial("tcp", strings.TrimPrefix(address, "http://"))
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		if way := ways[i%len(ways)]; strings.Contains(way, "%d") {
			_, err = fmt.Fprintf(c, way, i)
		} else {
			_, err = io.WriteString(c, way)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	for _, path := range []string{"/v1/seasons", "/v1/analyses/" + id + "/plot_results?limit=100", "/healthz"} {
		r, err := client.Get(address + path)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.Copy(io.Discard, r.Body); err != nil || r.StatusCode != http.StatusOK || r.Body.Close() != nil {
			t.Errorf("%s is answered %d, %v", path, r.StatusCode, err)
		}
	}
	close(s.jobs.hold) // so that the streams have an end
	client.CloseIdleConnections()
	for end := time.Now().Add(3 * time.Minute); runtime.NumGoroutine() > before+10; time.Sleep(50 * time.Millisecond) {

		if time.Now().After(end) {
			var stacks bytes.Buffer
			buffer := make([]byte, 1<<20)
			stacks.Write(buffer[:runtime.Stack(buffer, true)])
			t.Fatalf("%d goroutines, and %d before: %.3000s", runtime.NumGoroutine(), before, stacks.String())
		}
	}
	if err := stop(); err != nil {
		t.Error(err)
	}
}

// Requests that are small and would become large, and those that are too large, are
// refused by the word that the document has for them.
func TestBombsAreRefused(t *testing.T) {
	s := newService(t)
	season := s.season("Corrin Basin 2031")
	bomb := func(name string, content []byte) []byte {
		var b bytes.Buffer
		w := zip.NewWriter(&b)
		f, err := w.Create(name)
		if err == nil {
			_, err = f.Write(content)
		}
		if err == nil {
			err = w.Close()
		}
		if err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
	zeros := bomb("samples.csv", make([]byte, 80<<20))
	if len(zeros) > 200_000 {
		t.Fatalf("the bomb has %d bytes", len(zeros))
	}
	at := "/v1/datasets?name=bomb&season=" + season
	s.post(at, zeros, "Content-Type: application/zip").want(413).problem("expands_too_far")
	s.post("/v1/analyze?name=bomb", zeros, "Content-Type: application/zip").want(413).problem("expands_too_far")
	s.post(at, bomb("more.zip", bomb("samples.csv", []byte("x"))), "Content-Type: application/zip").want(422).problem("data_rejected")
	s.post(at, bomb("../../samples.csv", []byte("x")), "Content-Type: application/zip").want(422).problem("data_rejected")
	wide := strings.Repeat("c,", 300) + "c\n"
	s.post(at, wide, "Content-Type: text/csv").want(413).problem("too_many_columns")
	s.post("/v1/seasons", `{"name":`+strings.Repeat("[", 100_000)+strings.Repeat("]", 100_000)+`}`, "Content-Type: application/json").want(400).problem("malformed_request")
	s.post("/v1/seasons", `{"name":"`+strings.Repeat("x", 1<<20)+`"}`, "Content-Type: application/json").want(413).problem("body_too_large")
	s.get("/v1/seasons?season=" + strings.Repeat("x", 8<<10)).want(400).problem("malformed_request")
	for _, d := range s.get("/v1/datasets?season=" + season).want(200).data() {
		if d["state"] != "rejected" {
			t.Errorf("a bomb was %v", d["state"])
		}
	}

	address, stop := s.serve()
	c, err := net.Dial("tcp", strings.TrimPrefix(address, "http://"))
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	go func() {
		_, _ = io.WriteString(c, "GET /v1/seasons HTTP/1.1\r\nHost: localhost\r\nX-Large: "+strings.Repeat("x", 64<<10)+"\r\n\r\n") // it is cut off
	}()
	r, err := http.ReadResponse(bufio.NewReader(c), nil)
	if err != nil || r.StatusCode != http.StatusRequestHeaderFieldsTooLarge {
		t.Errorf("headers of 64 KiB: %v, %v", r, err)
	}
	if err := stop(); err != nil {
		t.Error(err)
	}
}
