package columnar

import (
	"bufio"
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"sheetwash/ingest/table"
)

func (t *tableau) openParquet(ctx context.Context) error {
	if !childReady.Load() {
		return ErrNoChild
	}
	if err := t.checkTail(); err != nil {
		return err
	}
	if t.in.path == "" {
		if err := t.spill(); err != nil {
			return err
		}
	}
	var h *hello
	err := t.ask(ctx, nil, 1, &buffers{}, func(kind byte, p []byte) error {
		if kind != frameHello || h != nil {
			return errPipe
		}
		h = &hello{}
		return json.Unmarshal(p, h)
	})
	if err != nil {
		return err
	}
	if h == nil {
		return errPipe
	}
	for _, f := range h.Fields {
		t.addField(f.Field, f.Refused, f.Notes)
	}
	t.scan = t.scanParquet
	return t.checkHeader()
}

// checkTail looks for the mark at the end, so that a file that was cut off is
// called that.
func (t *tableau) checkTail() error {
	tail := make([]byte, 8)
	if t.in.size < 12 {
		return errTruncated
	}
	if _, err := t.in.ReadAt(tail, t.in.size-8); err != nil && !errors.Is(err, io.EOF) {
		return err
	}
	if string(tail[4:]) == "PARE" {
		return faultf(CodeCodec, "the Parquet file is encrypted; write it again without encryption")
	}
	if string(tail[4:]) != "PAR1" {
		return errTruncated
	}
	if n := int64(binary.LittleEndian.Uint32(tail)); n > t.in.size-12 {
		return faultf(CodeCorrupt, "the footer claims %d bytes of a file of %d; the file is damaged: write it again", n, t.in.size)
	}
	return nil
}

// spill puts bytes that are in memory where the child can read them.
func (t *tableau) spill() error {
	f, err := os.CreateTemp("", "sheetwash-*.parquet")
	if err != nil {
		return err
	}
	_, err = f.Write(t.in.data)
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		os.Remove(f.Name())
		return err
	}
	t.in.path = f.Name()
	closeInput := t.in.close
	t.in.close = func() error { return errors.Join(closeInput(), os.Remove(f.Name())) }
	return nil
}

// ask starts a child and hands its frames to take, one after another. A child that
// does not end well is a fault of the file.
func (t *tableau) ask(outer context.Context, want []bool, workers int, room *buffers, take func(kind byte, p []byte) error) error {
	ctx, cancel := context.WithTimeout(outer, t.opt.MaxTime)
	defer cancel()
	req, err := json.Marshal(request{Path: t.in.path, Want: want, MaxRows: t.opt.MaxRows, MaxBytes: t.opt.MaxBytes, MaxTime: t.opt.MaxTime})
	if err != nil {
		return fmt.Errorf("encode request: %w", err)
	}
	exe, err := os.Executable()
	if err != nil {
		return fmt.Errorf("find decoder: %w", err)
	}
	cmd := exec.CommandContext(ctx, exe, childCommand)
	cmd.Env = []string{
		"GOMEMLIMIT=" + strconv.FormatInt(t.opt.MaxBytes/4*3, 10),
		"GOMAXPROCS=" + strconv.Itoa(max(1, workers)),
		"GOTRACEBACK=none",
		"GORACE=" + os.Getenv("GORACE"), // of a program built with the race detector, which else waits a second at its end
	}
	cmd.Stdin = bytes.NewReader(req)
	last := &tail{}
	cmd.Stderr = last
	cmd.WaitDelay = time.Second
	out, err := cmd.StdoutPipe()
	if err != nil {
		return fmt.Errorf("start decoder: %w", err)
	}
	if err := cmd.Start(); err != nil {
		if outer.Err() == nil && ctx.Err() != nil {
			return timeout(t.opt.MaxTime)
		}
		return fmt.Errorf("start decoder: %w", err)
	}
	err = frames(out, want != nil, room, take)
	if err != nil {
		cancel() // it may have more to say
	}
	werr := cmd.Wait()
	var f *fault
	switch {
	case err == nil && werr == nil, errors.Is(err, errStop):
		return nil
	case outer.Err() != nil:
		return outer.Err()
	case errors.As(err, &f):
		return f
	case errors.Is(ctx.Err(), context.DeadlineExceeded):
		return timeout(t.opt.MaxTime)
	}
	return died(werr, last.String(), t.opt.MaxTime)
}

// died says what to make of a child that broke off.
func died(err error, said string, limit time.Duration) error {
	switch {
	case strings.Contains(said, "out of memory"), strings.Contains(said, "cannot allocate memory"):
		return faultf(CodeTooLarge, "decoding needs more memory than is allowed; the file is damaged, or its row groups are too large: write it again with smaller ones")
	case err != nil && strings.Contains(err.Error(), "CPU time limit"):
		return timeout(limit)
	}
	first, _, _ := strings.Cut(said, "\n")
	if first == "" && err != nil {
		first = err.Error()
	}
	return asFault(errors.New(first))
}

// frames hands the frames of r to take until the child has said all; a stream of
// rows must end with its mark. What take is given is its own, to put into room when
// it is done with it.
func frames(r io.Reader, rows bool, room *buffers, take func(kind byte, p []byte) error) error {
	br := bufio.NewReaderSize(r, 1<<16)
	for {
		kind, p, err := readFrame(br, room.get())
		if errors.Is(err, io.EOF) && !rows {
			return nil
		}
		if err != nil {
			return err
		}
		switch kind {
		case frameFault:
			f := &fault{}
			if err := json.Unmarshal(p, f); err != nil {
				return errPipe
			}
			return f
		case frameEnd:
			return nil
		default:
			if err := take(kind, p); err != nil {
				return err
			}
		}
	}
}

// tail keeps the start of what a child writes on its standard error.
type tail struct {
	mu sync.Mutex
	b  []byte
}

func (t *tail) Write(p []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.b = append(t.b, p[:min(len(p), 4096-len(t.b))]...)
	return len(p), nil
}

func (t *tail) String() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return string(t.b)
}

// pipeScratch is the room of one worker.
type pipeScratch struct {
	cells []cells
	cols  []table.Column
}

func (t *tableau) scanParquet(ctx context.Context, workers int, want []bool, work func(*table.Batch) any, fail func(int64, *fault) any, commit func(any)) error {
	s := &pipeScan{want: want, words: make([][]string, len(want)), next: 1, work: work, fail: fail}
	return s.run(ctx, workers, commit, func(take func(kind byte, p []byte) error) error {
		return t.ask(ctx, want, workers, &s.room, take)
	})
}

// pipeScan is one pass over the rows that a child hands back.
type pipeScan struct {
	want  []bool
	words [][]string // per field, as they stand at this frame
	next  int64      // number of the next row
	room  buffers
	work  func(*table.Batch) any
	fail  func(row int64, f *fault) any
}

func (s *pipeScan) run(ctx context.Context, workers int, commit func(any), source func(take func(kind byte, p []byte) error) error) error {
	return inOrder(ctx, workers, func(send func(job[pipeScratch]) bool) error {
		err := source(func(kind byte, p []byte) error {
			switch kind {
			case frameWords:
				defer s.room.put(p)
				return s.takeWords(p)
			case frameBatch:
				return s.sendBatch(p, send)
			default:
				return errPipe
			}
		})
		var f *fault
		if errors.As(err, &f) {
			send(func(*pipeScratch) outcome { return outcome{results: []any{s.fail(f.Row, f)}, last: true} })
			return nil
		}
		return err
	}, commit)
}

func (s *pipeScan) takeWords(p []byte) error {
	if len(p) < 4 {
		return errPipe
	}
	i := binary.NativeEndian.Uint32(p)
	if int64(i) >= int64(len(s.words)) {
		return errPipe
	}
	words, err := readWords(p[4:])
	s.words[i] = words
	return err
}

func (s *pipeScan) sendBatch(p []byte, send func(job[pipeScratch]) bool) error {
	n, first, body, err := batchHead(p)
	if err != nil || first != s.next {
		return errPipe
	}
	s.next += n
	words := slices.Clone(s.words)
	return sent(send(func(w *pipeScratch) outcome {
		defer s.room.put(p)
		b := w.batch(body, int(n), first, s.want, words)
		if b == nil {
			return outcome{results: []any{s.fail(first, asFault(errPipe))}, last: true}
		}
		return outcome{results: []any{s.work(b)}}
	}))
}

// batchHead takes the number of rows and the first row's number off a batch.
func batchHead(p []byte) (n, first int64, body []byte, err error) {
	if len(p) < 16 {
		return 0, 0, nil, errPipe
	}
	n, first = int64(binary.NativeEndian.Uint64(p)), int64(binary.NativeEndian.Uint64(p[8:]))
	if n <= 0 || n > batchRows {
		return 0, 0, nil, errPipe
	}
	return n, first, p[16:], nil
}

// batch decodes the columns of a batch; nil where they make no sense.
func (w *pipeScratch) batch(body []byte, n int, first int64, want []bool, words [][]string) *table.Batch {
	if w.cells == nil {
		w.cells, w.cols = make([]cells, len(want)), make([]table.Column, len(want))
	}
	c := &cursor{b: body}
	for i, wanted := range want {
		w.cols[i] = table.Column{}
		if wanted {
			w.cells[i].readColumn(c, n, words[i])
			w.cols[i] = w.cells[i].Column
		}
	}
	if c.bad || c.at != len(c.b) {
		return nil
	}
	return table.NewBatch(n, w.cols, func(i int) int64 { return first + int64(i) }, nil)
}
