package columnar

import (
	"bufio"
	"context"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"sync"
	"sync/atomic"
	"time"
)

// childCommand is the hidden subcommand under which our binary decodes.
const childCommand = "decode-columnar"

// ErrNoChild is returned by Open for a Parquet file in a program that did not call
// ChildMain.
var ErrNoChild = errors.New("this program does not call columnar.ChildMain, without which Parquet is not decoded")

// childReady says that main called ChildMain, so that starting our own binary again
// yields a decoder and not a second program. It is set once.
var childReady atomic.Bool

// ChildMain must be called first thing in main. In a process that was started to
// decode it does so and exits; in any other it returns at once.
func ChildMain() {
	if len(os.Args) == 2 && os.Args[1] == childCommand {
		if err := childMain(os.Stdin, os.Stdout); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	childReady.Store(true)
}

// request is what the parent asks of the child, as JSON on its standard input.
type request struct {
	Path     string
	Want     []bool // nil: the header only
	MaxRows  int64
	MaxBytes int64
	MaxTime  time.Duration // of the processor
}

// runtimeBytes is what a child needs before it has decoded anything.
const runtimeBytes = 128 << 20

func childMain(in io.Reader, out io.Writer) error {
	var req request
	if err := json.NewDecoder(in).Decode(&req); err != nil {
		return fmt.Errorf("read request: %w", err)
	}
	if err := limitProcess(req.MaxBytes+runtimeBytes, req.MaxTime); err != nil {
		return fmt.Errorf("set limits: %w", err)
	}
	f, err := os.Open(req.Path)
	if err != nil {
		return err
	}
	defer f.Close()
	w := bufio.NewWriterSize(out, 1<<20)
	if err := serve(f, req, w); err != nil {
		return err
	}
	return w.Flush()
}

// serve answers a request. What is wrong with the file goes into a frame, the
// error is for w.
func serve(r readerAtSeeker, req request, w io.Writer) error {
	err := decodeParquet(r, req, w)
	var broken *writeError
	if err == nil || errors.As(err, &broken) {
		return err
	}
	return writeJSON(w, frameFault, asFault(err))
}

// writeError is an error of the pipe.
type writeError struct{ error }

type readerAtSeeker interface {
	io.ReaderAt
	io.Seeker
}

func decodeParquet(r readerAtSeeker, req request, w io.Writer) error {
	p, err := openParquetFile(r, Options{MaxRows: req.MaxRows})
	if err != nil {
		return err
	}
	if req.Want == nil {
		h := hello{Rows: p.rows}
		for i := range p.cols {
			h.Fields = append(h.Fields, helloField{p.cols[i].field, p.cols[i].refused, p.cols[i].notes})
		}
		return writeJSON(w, frameHello, h)
	}
	if len(req.Want) != len(p.cols) {
		return faultf(CodeCorrupt, "the file changed while it was read; read it again")
	}
	return p.stream(req.Want, w)
}

// stream writes the wanted columns, each decoded by a goroutine of its own that
// runs a few batches ahead.
func (p *parquetFile) stream(want []bool, w io.Writer) error {
	ctx, cancel := context.WithCancel(context.Background())
	var running sync.WaitGroup
	defer running.Wait()
	defer cancel()
	var pool buffers
	var fields []int
	var columns []chan piece
	for i, wanted := range want {
		if !wanted {
			continue
		}
		if p.leaves[i] < 0 || p.cols[i].refused != nil {
			return faultf(CodeType, "column %d cannot be read", i+1)
		}
		if err := p.checkChunks(i); err != nil {
			return inColumn(err, 0, p.cols[i].field.Name)
		}
		fields, columns = append(fields, i), append(columns, make(chan piece, 2))
	}
	for k, i := range fields {
		running.Go(func() { p.decode(ctx, i, &pool, columns[k]) })
	}
	first := int64(1)
	for _, rows := range p.groups {
		for left := rows; left > 0; left -= batchRows {
			n := min(left, batchRows)
			if err := p.writeBatch(w, fields, columns, &pool, n, first); err != nil {
				return err
			}
			first += n
		}
	}
	if err := writeFrame(w, frameEnd); err != nil {
		return &writeError{err}
	}
	return nil
}

func (p *parquetFile) writeBatch(w io.Writer, fields []int, columns []chan piece, pool *buffers, n, first int64) error {
	head := binary.NativeEndian.AppendUint64(nil, uint64(n))
	parts := [][]byte{binary.NativeEndian.AppendUint64(head, uint64(first))}
	for k, i := range fields {
		x := <-columns[k]
		if x.err != nil {
			return inColumn(x.err, first, p.cols[i].field.Name)
		}
		if x.words != nil {
			if err := writeFrame(w, frameWords, binary.NativeEndian.AppendUint32(nil, uint32(i)), x.words); err != nil {
				return &writeError{err}
			}
		}
		parts = append(parts, x.cells)
	}
	if err := writeFrame(w, frameBatch, parts...); err != nil {
		return &writeError{err}
	}
	for _, b := range parts[1:] {
		pool.put(b)
	}
	return nil
}

// inColumn says where a fault is; faults count rows from the start of a batch.
func inColumn(err error, first int64, column string) error {
	f := *asFault(err)
	f.Row += first
	f.Column = column
	return &f
}
