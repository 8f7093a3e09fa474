package jobs

import (
	"testing"
	"time"

	"sheetwash/api/store"
	"sheetwash/api/store/storetest"
)

// A queue that alone has the database learns of every job without looking for it: the
// first dataset, those that no worker was free for, and the fold.
func TestJobsOfThisProcessNeedNoPoll(t *testing.T) {
	b := newBench(t, storetest.SQLite(t))
	q := b.queue(good(b.blobs), func(c *Config) { c.Alone, c.times.idle = true, time.Hour })
	b.start(q)
	for name, n := range map[string]int{"first": 1, "second": 9, "third": 2} {
		if a := b.over(b.submit(q, name, n).ID); a.State != store.AnalysisSuccessful || a.Done != n {
			t.Errorf("the analysis is %+v", a)
		}
	}
}

func TestGate(t *testing.T) {
	open := &gate{}
	for range 2 {
		if open.closed() {
			t.Error("the zero gate is closed")
		}
	}
	g := &gate{idle: time.Hour}
	if g.closed() {
		t.Error("closed before the first fetch")
	}
	g.fetched.Store(time.Now().UnixNano())
	if !g.closed() {
		t.Error("an idle gate is open")
	}
	g.wake()
	if g.closed() || !g.closed() {
		t.Error("a wake lets one fetch pass")
	}
	g.fetched.Store(time.Now().Add(-2 * time.Hour).UnixNano())
	if g.closed() {
		t.Error("closed after the idle time")
	}
}
