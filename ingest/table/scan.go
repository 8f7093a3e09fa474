package table

import (
	"context"
	"fmt"
	"sync"

	"sheetwash/ingest/issue"
)

// outcome is what work made of one block.
type outcome struct {
	block  *block
	rows   int
	errors int64
	result any
	called bool
}

// Scan implements Table. One goroutine reads and divides, opt.Workers cut and
// work, and the caller's own commits in order.
func (t *text) Scan(ctx context.Context, opt ScanOptions, work func(*Batch) any, commit func(any)) error {
	if t.scanned {
		return fmt.Errorf("scan %s: %w", t.file, ErrScanned)
	}
	t.scanned = true
	if len(t.fields) == 0 {
		return nil
	}
	workers := max(1, opt.Workers)
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	free := make(chan *block, workers+2) // a block comes back once its result is committed
	for range cap(free) {
		free <- &block{}
	}
	jobs := make(chan *block, cap(free))
	done := make(chan outcome, cap(free))

	var wg sync.WaitGroup
	wg.Go(func() { t.divide(ctx, free, jobs) })
	wg.Go(func() {
		var cutting sync.WaitGroup
		for range workers {
			cutting.Go(func() { t.cutBlocks(ctx, opt.Want, jobs, done, work) })
		}
		cutting.Wait()
		close(done)
	})
	rows, errors := t.commitInOrder(done, free, commit)
	wg.Wait()
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("scan %s: %w", t.file, err)
	}
	if err := t.src.inputError(); err != nil {
		return fmt.Errorf("read %s: %w", t.file, err)
	}
	if rows == 0 && errors == 0 && t.issues.Errors() == 0 {
		t.noRows(opt, work, commit)
	}
	return nil
}

// noRows hands on one empty batch that says so.
func (t *text) noRows(opt ScanOptions, work func(*Batch) any, commit func(any)) {
	r := newRows(t, opt.Want)
	b := NewBatch(0, r.columns(&block{}), func(int) int64 { return 0 }, nil)
	r.report(&b.Issues, fault{code: CodeNoRows, severe: issue.Warning, message: "the table has a header and no rows"})
	commit(work(b))
}

// divide cuts the text into blocks until it ends or ctx is done.
func (t *text) divide(ctx context.Context, free <-chan *block, jobs chan<- *block) {
	defer close(jobs)
	d := divider{src: &t.src, delim: t.delim, nl: t.nl, size: t.opt.blockSize, maxRecord: t.opt.maxRecord,
		carry: t.head, row: t.row, line: t.line, noted: t.src.enc}
	t.head = nil
	for {
		select {
		case <-ctx.Done():
			return
		case b := <-free:
			if !d.next(b) {
				return
			}
			jobs <- b
		}
	}
}

// cutBlocks is the life of one worker.
func (t *text) cutBlocks(ctx context.Context, want []bool, jobs <-chan *block, done chan<- outcome, work func(*Batch) any) {
	r := newRows(t, want)
	for b := range jobs {
		o := outcome{block: b}
		if ctx.Err() == nil {
			batch := r.batch(b)
			o.rows, o.errors = batch.N, batch.Issues.Errors()
			if o.called = batch.N > 0 || len(batch.Issues.All()) > 0; o.called {
				o.result = work(batch)
			}
		}
		done <- o
	}
}

// commitInOrder hands results on in the order of the file and returns how many
// rows and errors there were.
func (t *text) commitInOrder(done <-chan outcome, free chan<- *block, commit func(any)) (rows int64, errors int64) {
	waiting := map[int]outcome{}
	next := 0
	for o := range done {
		waiting[o.block.seq] = o
		for {
			o, ok := waiting[next]
			if !ok {
				break
			}
			delete(waiting, next)
			next++
			if o.called {
				commit(o.result)
			}
			rows += int64(o.rows)
			errors += o.errors
			free <- o.block
		}
	}
	return rows, errors
}
