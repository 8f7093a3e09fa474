package report

import (
	"fmt"
	"io"
	"runtime"
	"sync"

	"sheetwash/analysis/result"
)

// Options says how a table is written.
type Options struct {
	Format  Format
	Units   Units
	Workers int // goroutines that format text; below 1: one per processor. The bytes don't depend on it
}

// Write writes one result table of an analysis. It returns an error for a table
// or format that does not exist and for a failing w.
func Write(w io.Writer, a *result.Analysis, table string, opt Options) error {
	if opt.Workers < 1 {
		opt.Workers = runtime.GOMAXPROCS(0)
	}
	for _, t := range tables() {
		if t.called() == table {
			if err := t.write(w, a, opt); err != nil {
				return fmt.Errorf("write table %s: %w", table, err)
			}
			return nil
		}
	}
	return fmt.Errorf("there is no result table %q", table)
}

func (s *sheet[R]) write(w io.Writer, a *result.Analysis, opt Options) error {
	b, err := s.bind(s.rows(a), opt.Units)
	if err != nil {
		return err
	}
	switch opt.Format {
	case CSV:
		if _, err := w.Write(b.appendCSVHeader(nil)); err != nil {
			return err
		}
		return b.rows.write(w, opt.Workers, b.appendCSVRow)
	case JSON:
		if _, err := io.WriteString(w, "["); err != nil {
			return err
		}
		if err := b.rows.write(w, opt.Workers, b.appendJSONRow); err != nil {
			return err
		}
		_, err := io.WriteString(w, "\n]\n")
		return err
	case Arrow, Parquet:
		return b.writeColumns(w, opt)
	}
	return fmt.Errorf("there is no format %q", opt.Format)
}

// blockRows is how many rows a goroutine formats before they are written.
const blockRows = 2048

// write formats the rows in blocks, several at a time, and writes the blocks in
// order. It holds two blocks of text per worker.
func (r records[R]) write(w io.Writer, workers int, appendRow func(dst []byte, row *R, first bool) []byte) error {
	blocks := (r.n + blockRows - 1) / blockRows
	if workers = min(workers, blocks); workers < 1 {
		return nil
	}
	spare := make(chan []byte, 2*workers)
	done := make([]chan []byte, 2*workers) // block b goes to slot b mod 2*workers
	for i := range done {
		spare <- nil
		done[i] = make(chan []byte, 1)
	}
	next := make(chan int)
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			var scratch []R
			for block := range next {
				buf := (<-spare)[:0]
				scratch = r.block(block*blockRows, min(r.n, (block+1)*blockRows), scratch)
				for i := range scratch {
					buf = appendRow(buf, &scratch[i], block+i == 0)
				}
				done[block%len(done)] <- buf
			}
		})
	}
	var failed error
	fed := 0
	for block := range blocks {
		for ; fed < min(blocks, block+len(done)); fed++ {
			next <- fed
		}
		buf := <-done[block%len(done)]
		if failed == nil {
			_, failed = w.Write(buf)
		}
		spare <- buf
	}
	close(next)
	wg.Wait()
	return failed
}
