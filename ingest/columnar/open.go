package columnar

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"sheetwash/ingest/issue"
	"sheetwash/ingest/table"
)

// Source is where a file's bytes are: at Path, or, where that is empty, in Data.
type Source struct {
	Path string
	Data []byte
}

// Options bounds what a file may ask of the machine. The zero value means the
// defaults beside each field.
type Options struct {
	MaxRows  int64         // rows that a file may declare; 1e9
	MaxBytes int64         // decompressed bytes of one record batch, and memory of the child; 1 GiB
	MaxTime  time.Duration // time for one pass over a file, what is done with its rows included; 1 hour
}

func (o Options) withDefaults() Options {
	if o.MaxRows <= 0 {
		o.MaxRows = 1e9
	}
	if o.MaxBytes <= 0 {
		o.MaxBytes = 1 << 30
	}
	if o.MaxTime <= 0 {
		o.MaxTime = time.Hour
	}
	return o
}

// Encoding is a columnar file format as its first bytes tell it.
type Encoding uint8

// The formats that are told apart. Feather version 2 is an Arrow IPC file.
const (
	NotColumnar Encoding = iota
	IPCFile
	IPCStream
	ParquetFile
	FeatherV1        // not read
	EncryptedParquet // not read
)

// HeadSize is how many bytes Detect wants to see.
const HeadSize = 8

// Detect tells the format from the first HeadSize bytes of a file.
func Detect(head []byte) Encoding {
	switch {
	case bytes.HasPrefix(head, []byte("ARROW1")):
		return IPCFile
	case bytes.HasPrefix(head, []byte("PAR1")):
		return ParquetFile
	case bytes.HasPrefix(head, []byte("PARE")):
		return EncryptedParquet
	case bytes.HasPrefix(head, []byte("FEA1")):
		return FeatherV1
	case len(head) >= 8 && bytes.HasPrefix(head, []byte{0xFF, 0xFF, 0xFF, 0xFF}) && head[7] < 4:
		return IPCStream
	default:
		return NotColumnar
	}
}

// Open opens a columnar file, known by its content, as a table. file is its path
// below the dataset, for findings; name the table's name. What is wrong with the
// file is among the table's Issues, which then has no fields; the error is for a
// file that cannot be read at all and for ErrNoChild.
func Open(ctx context.Context, file, name string, src Source, opt Options) (table.Table, error) {
	in, err := src.open()
	if err != nil {
		return nil, fmt.Errorf("open %s: %w", file, err)
	}
	t := &tableau{file: file, name: name, in: in, opt: opt.withDefaults()}
	err = t.open(ctx)
	var f *fault
	if errors.As(err, &f) {
		t.issues.Add(f.issue(file))
		t.scan = nil
		err = nil
	}
	if err != nil {
		in.close()
		return nil, fmt.Errorf("open %s: %w", file, err)
	}
	return t, nil
}

// input is an opened source.
type input struct {
	io.ReaderAt
	size  int64
	path  string // "" where the bytes are in memory
	data  []byte
	close func() error
}

func (s Source) open() (*input, error) {
	if s.Path == "" {
		return &input{ReaderAt: bytes.NewReader(s.Data), size: int64(len(s.Data)), data: s.Data, close: func() error { return nil }}, nil
	}
	f, err := os.Open(s.Path)
	if err != nil {
		return nil, err
	}
	info, err := f.Stat()
	if err == nil && !info.Mode().IsRegular() {
		err = errors.New("not a regular file")
	}
	if err != nil {
		f.Close()
		return nil, err
	}
	return &input{ReaderAt: f, size: info.Size(), path: s.Path, close: f.Close}, nil
}

// scanFunc is one pass over the rows. work and fail may be called on several
// goroutines, commit on one at a time and in the order of the file.
type scanFunc func(ctx context.Context, workers int, want []bool, work func(*table.Batch) any, fail func(row int64, f *fault) any, commit func(any)) error

// tableau is a columnar file as a table.
type tableau struct {
	file, name string
	in         *input
	opt        Options
	fields     []table.Field
	refused    []*fault // per field: why it cannot be read, or nil
	issues     issue.List
	scan       scanFunc
}

func (t *tableau) open(ctx context.Context) error {
	head := make([]byte, HeadSize)
	n, err := t.in.ReadAt(head, 0)
	if err != nil && !errors.Is(err, io.EOF) {
		return err
	}
	switch Detect(head[:n]) {
	case IPCFile:
		return t.openIPC(false)
	case IPCStream:
		return t.openIPC(true)
	case ParquetFile:
		return t.openParquet(ctx)
	case FeatherV1:
		return faultf(CodeCodec, "the file is Feather version 1, which is not read; write it again as Feather version 2, Arrow or Parquet")
	case EncryptedParquet:
		return faultf(CodeCodec, "the Parquet file is encrypted; write it again without encryption")
	default:
		return faultf(CodeUnknown, "the file is neither Arrow nor Parquet, whatever its name says; write it again")
	}
}

func (t *tableau) openIPC(stream bool) error {
	f, err := openIPC(t.in, t.in.size, stream)
	if err != nil {
		return err
	}
	for i := range f.cols {
		t.addField(f.cols[i].field, f.cols[i].refused, f.cols[i].notes)
	}
	t.scan = func(ctx context.Context, workers int, want []bool, work func(*table.Batch) any, fail func(int64, *fault) any, commit func(any)) error {
		s := &ipcScan{ipcFile: f, opt: t.opt, want: want, dicts: map[int64]*dictionary{}, work: work, fail: fail}
		return s.run(ctx, workers, commit)
	}
	return t.checkHeader()
}

func (t *tableau) addField(f table.Field, refused *fault, notes []*fault) {
	t.fields = append(t.fields, f)
	t.refused = append(t.refused, refused)
	if refused != nil {
		notes = append(notes, refused)
	}
	for _, n := range notes {
		i := n.issue(t.file)
		i.Severity = issue.Note
		t.issues.Add(i)
	}
}

func (t *tableau) checkHeader() error {
	if len(t.fields) == 0 {
		return faultf(CodeHeader, "the file has no columns; write it again with those of the table")
	}
	seen := map[string]bool{}
	for i, f := range t.fields {
		if f.Name == "" {
			return faultf(CodeHeader, "column %d has no name; give it one", i+1)
		}
		if seen[f.Name] {
			return &fault{Code: CodeHeader, Column: f.Name, Message: "two columns have this name; rename one"}
		}
		seen[f.Name] = true
	}
	return nil
}

func (t *tableau) File() string          { return t.file }
func (t *tableau) Name() string          { return t.name }
func (t *tableau) Fields() []table.Field { return t.fields }
func (t *tableau) Issues() *issue.List   { return &t.issues }
func (t *tableau) DecimalComma() bool    { return false }
func (t *tableau) Close() error          { return t.in.close() }

// Scan implements table.Table. A wanted column of a type that cannot be read is an
// error among the issues of the first batch, and no rows follow.
func (t *tableau) Scan(ctx context.Context, opt table.ScanOptions, work func(*table.Batch) any, commit func(any)) error {
	want := opt.Want
	if want == nil {
		want = make([]bool, len(t.fields))
		for i := range want {
			want[i] = true
		}
	}
	if len(want) != len(t.fields) {
		return fmt.Errorf("scan %s: %d columns wanted of %d", t.file, len(want), len(t.fields))
	}
	if t.scan == nil {
		return nil // opening said why
	}
	fail := func(row int64, faults ...*fault) any {
		b := table.NewBatch(0, make([]table.Column, len(t.fields)), func(int) int64 { return row }, nil)
		for _, f := range faults {
			b.Issues.Add(f.issue(t.file))
		}
		return work(b)
	}
	var refused []*fault
	for i, f := range t.refused {
		if f != nil && want[i] {
			refused = append(refused, f)
		}
	}
	if refused != nil {
		commit(fail(1, refused...))
		return nil
	}
	err := t.scan(ctx, max(1, opt.Workers), want, work, func(row int64, f *fault) any { return fail(row, f) }, commit)
	if err != nil {
		return fmt.Errorf("read %s: %w", t.file, err)
	}
	return nil
}
