//go:build unix

package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"
)

// service is a running service on one data folder.
type service struct {
	*exec.Cmd
	url string
}

// serve starts the service and waits until it is ready.
func serve(t *testing.T, data string) *service {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := l.Addr().String()
	l.Close()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	s := &service{exec.Command(self, "serve", "--data", data, "--listen", address, "--metrics", "off", "--log", "error"), "http://" + address}
	s.Env = append(os.Environ(), "SHEETWASH_TEST_PROGRAM=1")
	var said bytes.Buffer
	s.Stderr = &said
	if err := s.Start(); err != nil {
		t.Fatal(err)
	}
	for range 1500 {
		if r, err := http.Get(s.url + "/readyz"); err == nil {
			r.Body.Close()
			if r.StatusCode == http.StatusOK {
				return s
			}
		}
		time.Sleep(20 * time.Millisecond)
	}
	s.kill()
	t.Fatalf("the service is not ready:\n%s", &said)
	return nil
}

// kill ends the service as a power failure would.
func (s *service) kill() {
	_ = s.Process.Kill()
	_ = s.Wait()
}

// send sends a creating request under a key and returns the answer's members; nil
// where there was no answer.
func (s *service) send(path, contentType, key, body string) map[string]any {
	q, err := http.NewRequest(http.MethodPost, s.url+path, strings.NewReader(body))
	if err != nil {
		return nil
	}
	q.Header.Set("Content-Type", contentType)
	q.Header.Set("Idempotency-Key", key)
	return answered(http.DefaultClient.Do(q))
}

func (s *service) get(path string) map[string]any {
	return answered(http.Get(s.url + path))
}

func answered(r *http.Response, err error) map[string]any {
	if err != nil {
		return nil
	}
	defer r.Body.Close()
	text, err := io.ReadAll(r.Body)
	var members map[string]any
	if err != nil || r.StatusCode >= 300 || json.Unmarshal(text, &members) != nil {
		return nil
	}
	return members
}

// day is a small dataset, another one for each number.
func day(n int) string {
	var b strings.Builder
	b.WriteString("run,event,plot,treatment,area [m2],intensity [mm/h],rain_duration [min],stream,start [min],end [min],volume [mL]\n")
	for k := range 5 {
		fmt.Fprintf(&b, "R%d,Pell Farm,1,bare,0.5,70,30,runoff,%d,%d,%d\n", n, 5*k+5, 5*k+10, 500+100*k+n)
	}
	return b.String()
}

// Whoever was told that an upload or an analysis is there finds it after any number of
// crashes, once, and every analysis ends. Who was not told asks again under the
// same key.
func TestKilledService(t *testing.T) {
	data := t.TempDir()
	s := serve(t, data)
	season, _ := s.send("/v1/seasons", "application/json", "season", `{"name":"2031","time_zone":"UTC"}`)["id"].(string)
	if season == "" {
		t.Fatal("no season")
	}
	datasets, analyses := map[string]string{}, map[string]string{} // by key, as acknowledged
	ask := func(kept map[string]string, key, path, contentType, body string) string {
		id, _ := s.send(path, contentType, key, body)["id"].(string)
		switch before := kept[key]; {
		case id == "":
		case before != "" && before != id:
			t.Errorf("%s was %s and is %s", key, before, id)
		default:
			kept[key] = id
		}
		return id
	}
	random := rand.New(rand.NewPCG(20, 31))
	n := 0
	for range 20 {
		killed := make(chan struct{})
		go func(victim *service, after time.Duration) {
			time.Sleep(after)
			victim.kill()
			close(killed)
		}(s, time.Duration(20+random.IntN(400))*time.Millisecond)
		for alive := true; alive; {
			key := fmt.Sprint("dataset ", n)
			id := ask(datasets, key, "/v1/datasets?season="+season+"&name=day-"+fmt.Sprint(n), "text/csv", day(n))
			if id != "" {
				id = ask(analyses, fmt.Sprint("analysis ", n), "/v1/analyses", "application/json", `{"datasets":["`+id+`"]}`)
			}
			if id != "" {
				n++ // else the same again, from the next service
			}
			select {
			case <-killed:
				alive = false
			default:
			}
		}
		s = serve(t, data)
	}
	defer s.kill()
	for key, id := range datasets {
		if got := s.get("/v1/datasets/" + id); got["state"] != "accepted" {
			t.Errorf("%s was acknowledged and is %v", key, got)
		}
	}
	for key, id := range analyses {
		var a map[string]any
		for range 3000 {
			if a = s.get("/v1/analyses/" + id); a["state"] != "accepted" && a["state"] != "running" {
				break
			}
			time.Sleep(20 * time.Millisecond)
		}
		if a["state"] != "successful" {
			t.Errorf("%s was acknowledged and is %v", key, a)
			continue
		}
		rows, _ := s.get("/v1/analyses/" + id + "/plot_results?metric=rain_depth")["data"].([]any)
		if len(rows) != 1 {
			t.Errorf("%s has %d rain depths, want 1", key, len(rows))
		}
	}
	for path, most := range map[string]int{"/v1/datasets": len(datasets), "/v1/analyses": len(analyses)} {
		list, _ := s.get(path + "?limit=1000")["data"].([]any)
		if len(list) < most || len(list) > most+1 { // the last one may have been kept and not acknowledged
			t.Errorf("%s has %d, %d were acknowledged", path, len(list), most)
		}
	}
	t.Logf("%d datasets and %d analyses acknowledged in 20 lives", len(datasets), len(analyses))
}
