package columnar

import (
	"context"
	"sync"
)

// outcome is what a job leaves for commit.
type outcome struct {
	results []any
	last    bool // nothing after this job counts: the file is at fault here
}

// job decodes a stretch of the file and works on it. The worker's scratch is its
// own for the time of the call.
type job[S any] func(scratch *S) outcome

// inOrder runs the jobs that produce sends on up to workers goroutines, each with
// a scratch of its own, and commits what they return in the order in which they were
// sent. send returns false when no further job is wanted. After a job that is the
// last, nothing is committed, so that what is committed does not depend on timing.
func inOrder[S any](ctx context.Context, workers int, produce func(send func(job[S]) bool) error, commit func(any)) error {
	workers = max(1, workers)
	var running sync.WaitGroup
	q := &queue{commit: commit, done: map[int]outcome{}, room: make(chan struct{}, 3*workers), over: make(chan struct{})}
	type numbered struct {
		seq int
		run job[S]
	}
	jobs := make(chan numbered)
	for range workers {
		running.Go(func() {
			var scratch S
			for j := range jobs {
				q.finish(j.seq, j.run(&scratch))
			}
		})
	}
	seq := 0
	err := produce(func(j job[S]) bool {
		select { // checked first: a stop must not lose against room by chance
		case <-ctx.Done():
			return false
		case <-q.over:
			return false
		default:
		}
		select {
		case <-ctx.Done():
			return false
		case <-q.over:
			return false
		case q.room <- struct{}{}:
		}
		jobs <- numbered{seq, j}
		seq++
		return true
	})
	close(jobs)
	running.Wait()
	if err == nil {
		err = ctx.Err()
	}
	return err
}

// queue holds outcomes until those before them have been committed.
type queue struct {
	mu     sync.Mutex
	commit func(any)
	done   map[int]outcome
	next   int
	room   chan struct{} // one entry per job that is not committed
	over   chan struct{} // closed after the last outcome
	ended  bool
}

func (q *queue) finish(seq int, o outcome) {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.done[seq] = o
	for {
		o, ok := q.done[q.next]
		if !ok {
			return
		}
		delete(q.done, q.next)
		q.next++
		<-q.room
		if q.ended {
			continue
		}
		for _, r := range o.results {
			q.commit(r)
		}
		if o.last {
			q.ended = true
			close(q.over)
		}
	}
}

// buffers keeps room for bytes that come and go.
type buffers struct {
	mu   sync.Mutex
	free [][]byte
}

// get returns an empty slice, with room if there is any.
func (b *buffers) get() []byte {
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(b.free) == 0 {
		return nil
	}
	last := len(b.free) - 1
	p := b.free[last]
	b.free = b.free[:last]
	return p[:0]
}

// put takes back what get gave.
func (b *buffers) put(p []byte) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.free = append(b.free, p)
}
