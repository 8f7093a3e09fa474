package columnar

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"sync"

	"github.com/klauspost/compress/zstd"
	"github.com/pierrec/lz4/v4"

	"sheetwash/ingest/table"
)

const (
	// batchRows is how many rows a batch has at most; a multiple of 8, so that
	// every batch starts at a byte of a bitmap.
	batchRows = 1 << 16
	// maxStretch bounds what one column of one batch may hold, in bytes.
	maxStretch = 1 << 28
	// maxWords bounds a dictionary.
	maxWords = 1 << 24
)

// ipcScratch is the room of one worker.
type ipcScratch struct {
	arena arena
	held  arena // decompressed buffers of one record batch
	cells []cells
	cols  []table.Column
	zstd  *zstd.Decoder
	lz4   *lz4.Reader
}

// ipcScan is one pass over a file.
type ipcScan struct {
	*ipcFile
	opt   Options
	want  []bool
	dicts map[int64]*dictionary
	row   int64 // rows of the record batches so far
	heavy sync.Mutex
	work  func(*table.Batch) any
	fail  func(row int64, f *fault) any // work on a batch that holds nothing but a finding
}

func (s *ipcScan) run(outer context.Context, workers int, commit func(any)) error {
	ctx, cancel := context.WithTimeout(outer, s.opt.MaxTime)
	defer cancel()
	err := s.pass(ctx, workers, commit)
	if errors.Is(err, context.DeadlineExceeded) && outer.Err() == nil {
		commit(s.fail(0, timeout(s.opt.MaxTime)))
		return nil
	}
	return err
}

func (s *ipcScan) pass(ctx context.Context, workers int, commit func(any)) error {
	return inOrder(ctx, workers, func(send func(job[ipcScratch]) bool) error {
		err := s.layout.each(s.r, s.size, func(_ int, m message) error {
			switch m.kind {
			case msgDictionary:
				return guarded(func() error { return s.takeDictionary(m) })
			case msgRecords:
				return s.sendRecords(m, send)
			default:
				return errDamaged(m.body)
			}
		})
		if errors.Is(err, errStop) {
			return nil
		}
		var f *fault
		if err != nil && !errors.As(err, &f) {
			return err // I/O
		}
		if f != nil {
			send(func(*ipcScratch) outcome { return outcome{results: []any{s.fail(0, f)}, last: true} })
		}
		return nil
	}, commit)
}

// errStop ends the walk over the messages: nobody wants more.
var errStop = errors.New("stop")

// plan is what a job has to know of a record batch.
type plan struct {
	rb    records
	cols  []column      // per field; parts are empty where it is not wanted
	dicts []*dictionary // per field, as they stand at this batch
	first int64         // number of the first row
	bytes int64         // of the wanted columns once decompressed
}

func (s *ipcScan) sendRecords(m message, send func(job[ipcScratch]) bool) error {
	p := plan{first: s.row + 1, cols: make([]column, len(s.fields)), dicts: make([]*dictionary, len(s.fields))}
	var err error
	if p.rb, err = readRecords(m.header, m); err != nil {
		return err
	}
	if s.row += p.rb.rows; s.row > s.opt.MaxRows {
		return faultf(CodeTooLarge, "the file holds more than %d rows; split it, or raise the limit", s.opt.MaxRows)
	}
	var at extent
	for i := range s.fields {
		field := &s.fields[i]
		e := field.extent(m.version)
		if s.want[i] {
			if p.cols[i], err = p.rb.columnAt(at, field.dt, e); err != nil {
				return err
			}
			if field.dict {
				if p.dicts[i] = s.dicts[field.id]; p.dicts[i] == nil && p.rb.rows > 0 {
					return errDamaged(m.body) // rows before their dictionary
				}
			}
		}
		at.add(extent{e.nodes, e.buffers + p.rb.views(at.variadic, e.variadic), e.variadic})
	}
	if p.rb.packed {
		if err := s.measure(&p); err != nil {
			return err
		}
		return sent(send(func(w *ipcScratch) outcome { return s.unpackAndRead(w, &p) }))
	}
	for from := int64(0); from < p.rb.rows; from += batchRows {
		to := min(from+batchRows, p.rb.rows)
		if !send(func(w *ipcScratch) outcome { return s.window(w, &p, from, to) }) {
			return errStop
		}
	}
	return nil
}

func sent(ok bool) error {
	if ok {
		return nil
	}
	return errStop
}

// measure reads what the wanted buffers say they hold once decompressed.
func (s *ipcScan) measure(p *plan) error {
	for i := range p.cols {
		for _, part := range p.cols[i].parts {
			if part.n == 0 {
				continue
			}
			var head [8]byte
			if err := s.read(part, 0, head[:min(8, part.n)]); err != nil {
				return err
			}
			n := int64(binary.LittleEndian.Uint64(head[:]))
			if n == -1 {
				n = part.n - 8
			}
			if n < 0 || part.n < 8 {
				return errDamaged(part.off)
			}
			if p.bytes += n; n > s.opt.MaxBytes || p.bytes > s.opt.MaxBytes {
				return faultf(CodeTooLarge, "the columns of a record batch of %d rows claim more than %d bytes; write the file again with smaller record batches", p.rb.rows, s.opt.MaxBytes)
			}
		}
	}
	return nil
}

// heavyBytes is the size of a record batch, decompressed, from which on only one at a
// time is held.
const heavyBytes = 64 << 20

// unpackAndRead decompresses a record batch and works on it window by window.
func (s *ipcScan) unpackAndRead(w *ipcScratch, p *plan) outcome {
	w.held.reset()
	if p.bytes > heavyBytes {
		s.heavy.Lock()
		defer s.heavy.Unlock()
		defer func() { w.held, w.arena = arena{}, arena{} }()
	}
	for i := range p.cols {
		if err := guarded(func() error { return s.unpack(w, &p.cols[i], p.rb.codec) }); err != nil {
			return s.failed(err, p.first, i)
		}
	}
	var all outcome
	for from := int64(0); from < p.rb.rows && !all.last; from += batchRows {
		o := s.window(w, p, from, min(from+batchRows, p.rb.rows))
		all.results, all.last = append(all.results, o.results...), o.last
	}
	return all
}

// unpack replaces the parts of a column by their decompressed bytes.
func (s *ipcFile) unpack(w *ipcScratch, c *column, codec uint8) error {
	for i, part := range c.parts {
		if part.n == 0 {
			continue
		}
		raw := w.arena.get(int(part.n))
		w.arena.next--
		if err := s.read(part, 0, raw); err != nil {
			return err
		}
		n := int64(binary.LittleEndian.Uint64(raw))
		if n == -1 {
			data := w.held.get(len(raw) - 8)
			copy(data, raw[8:])
			c.parts[i] = stretch{n: part.n - 8, data: data, held: true}
			continue
		}
		data := w.held.get(int(n))
		if err := w.decompress(codec, raw[8:], data); err != nil {
			return err
		}
		c.parts[i] = stretch{n: n, data: data, held: true}
	}
	return nil
}

// decompress fills data, whose length is what the file claims.
func (w *ipcScratch) decompress(codec uint8, raw, data []byte) error {
	if codec == 0 {
		if w.lz4 == nil {
			w.lz4 = lz4.NewReader(nil)
		}
		w.lz4.Reset(bytes.NewReader(raw))
		_, err := io.ReadFull(w.lz4, data)
		return err
	}
	if w.zstd == nil {
		var err error
		w.zstd, err = zstd.NewReader(nil, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(math.MaxInt32))
		if err != nil {
			return err
		}
	}
	if err := w.zstd.Reset(bytes.NewReader(raw)); err != nil {
		return err
	}
	_, err := io.ReadFull(w.zstd, data)
	return err
}

// window works on rows from to to of a record batch.
func (s *ipcScan) window(w *ipcScratch, p *plan, from, to int64) outcome {
	if w.cells == nil {
		w.cells, w.cols = make([]cells, len(s.fields)), make([]table.Column, len(s.fields))
	}
	w.arena.reset()
	first := p.first + from
	for i := range s.fields {
		if !s.want[i] {
			w.cols[i] = table.Column{}
			continue
		}
		c := &w.cells[i]
		err := guarded(func() error {
			return s.fetch(&w.arena, &p.cols[i], &s.cols[i], p.dicts[i], from, to, c)
		})
		if err != nil {
			return s.failed(err, first, i)
		}
		w.cols[i] = c.Column
	}
	b := table.NewBatch(int(to-from), w.cols, func(i int) int64 { return first + int64(i) }, nil)
	return outcome{results: []any{s.work(b)}}
}

// failed ends the scan with a finding; faults count rows from the start of their
// window.
func (s *ipcScan) failed(err error, first int64, field int) outcome {
	f := *asFault(err)
	f.Row += first
	f.Column = s.cols[field].field.Name
	return outcome{results: []any{s.fail(first, &f)}, last: true}
}

// dictionary is the values of a dictionary-encoded column as they stand at some
// place of the file. Later batches may add to it; what stands stays.
type dictionary struct {
	words  []string // of text
	values cells    // of anything else
	null   []bool   // nil: no word is null
	isText bool
}

// takeDictionary reads a dictionary batch if any wanted column needs it.
func (s *ipcScan) takeDictionary(m message) error {
	id := m.header.i64(0)
	field := -1
	for i := range s.fields {
		if s.fields[i].dict && s.fields[i].id == id && s.want[i] {
			field = i
			break
		}
	}
	if field < 0 {
		return nil
	}
	body, ok := m.header.table(1)
	if !ok {
		return errDamaged(m.body)
	}
	rb, err := readRecords(body, m)
	if err != nil {
		return err
	}
	if rb.rows > maxWords {
		return faultf(CodeTooLarge, "a dictionary of %d words is too large; write the column as plain text", rb.rows)
	}
	var scratch ipcScratch
	p := plan{rb: rb, cols: make([]column, 1)}
	words := valueType(s.fields[field].dt)
	if p.cols[0], err = rb.columnAt(extent{}, words, extentOf(words)); err != nil {
		return err
	}
	if rb.packed {
		if err := s.measure(&p); err != nil {
			return err
		}
		if err := s.unpack(&scratch, &p.cols[0], rb.codec); err != nil {
			return err
		}
	}
	d := &dictionary{isText: isText(p.cols[0].dt)}
	if err := s.fetch(&scratch.arena, &p.cols[0], &s.cols[field], nil, 0, rb.rows, &d.values); err != nil {
		return err
	}
	if d.isText {
		d.words, d.null, d.values = d.values.words(), d.values.Null, cells{}
	} else {
		d.null = d.values.Null
	}
	return s.keep(id, d, m.header.u8(2) != 0)
}

// keep makes d the dictionary of that id, or adds it to what is there.
func (s *ipcScan) keep(id int64, d *dictionary, delta bool) error {
	old := s.dicts[id]
	if !delta || old == nil {
		s.dicts[id] = d
		return nil
	}
	if !d.isText {
		return faultf(CodeType, "a dictionary of numbers grows within the file, which is not read; write the column as plain numbers")
	}
	if len(old.words)+len(d.words) > maxWords {
		return faultf(CodeTooLarge, "a dictionary of more than %d words is too large; write the column as plain text", maxWords)
	}
	grown := &dictionary{isText: true, words: append(old.words, d.words...)}
	if old.null != nil || d.null != nil {
		grown.null = append(grown.null, orFalse(old.null, len(old.words))...)
		grown.null = append(grown.null, orFalse(d.null, len(d.words))...)
	}
	s.dicts[id] = grown
	return nil
}

func orFalse(null []bool, n int) []bool {
	if null == nil {
		return make([]bool, n)
	}
	return null
}
