package columnar

import (
	"bytes"
	"context"
	"fmt"
	"strings"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/compress"
	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"

	"sheetwash/ingest/table"
)

// parquetFile is an opened Parquet file. It lives in the child process only.
type parquetFile struct {
	file   *file.Reader
	arrow  *pqarrow.FileReader
	cols   []described
	leaves []int   // leaf column of each field; -1: the field is nested
	groups []int64 // rows of each row group
	rows   int64
}

func openParquetFile(r parquet.ReaderAtSeeker, opt Options) (*parquetFile, error) {
	p := &parquetFile{}
	err := guarded(func() (err error) {
		defer func() { err = codecFault(err) }()
		if p.file, err = file.NewParquetReader(r); err != nil {
			return err
		}
		props := pqarrow.ArrowReadProperties{BatchSize: batchRows}
		schema := p.file.MetaData().Schema
		for i := range schema.NumColumns() {
			if schema.Column(i).PhysicalType() == parquet.Types.ByteArray && schema.Column(i).MaxRepetitionLevel() == 0 {
				props.SetReadDict(i, true)
			}
		}
		if p.arrow, err = pqarrow.NewFileReader(p.file, props, memory.DefaultAllocator); err != nil {
			return err
		}
		for i := range p.arrow.Manifest.Fields {
			f := &p.arrow.Manifest.Fields[i]
			leaf := f.ColIndex
			if !f.IsLeaf() {
				leaf = -1
			}
			p.leaves = append(p.leaves, leaf)
			p.cols = append(p.cols, describe(f.Field.Name, f.Field.Type.String(), f.Field.Type, f.Field.Metadata.GetValue))
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return p, p.countRows(opt.MaxRows)
}

func (p *parquetFile) countRows(limit int64) error {
	for i := range p.file.NumRowGroups() {
		n := p.file.MetaData().RowGroup(i).NumRows()
		if n < 0 {
			return faultf(CodeCorrupt, "row group %d claims %d rows; the file is damaged: write it again", i+1, n)
		}
		p.groups = append(p.groups, n)
		if p.rows += n; p.rows > limit || p.rows < 0 {
			return faultf(CodeTooLarge, "the file claims more than %d rows; split it, or raise the limit", limit)
		}
	}
	if n := p.file.NumRows(); n != p.rows {
		return faultf(CodeCorrupt, "the file claims %d rows, its row groups %d; the file is damaged: write it again", n, p.rows)
	}
	return nil
}

// codecFault recognises what the library says of codecs and encodings that it
// does not have.
func codecFault(err error) error {
	if err == nil {
		return nil
	}
	s := err.Error()
	if strings.Contains(s, "unsupported data encoding") || strings.Contains(s, "unknown encoding type") || strings.Contains(s, "encrypt") {
		return faultf(CodeCodec, "the Parquet file uses what is not read here (%s); write it with plain or dictionary encoding and zstd or snappy", s)
	}
	return err
}

// checkChunks finds wanted column chunks whose codec or encoding is not read.
func (p *parquetFile) checkChunks(field int) error {
	leaf := p.leaves[field]
	for g := range p.groups {
		chunk, err := p.file.MetaData().RowGroup(g).ColumnChunk(leaf)
		if err != nil {
			return err
		}
		switch c := chunk.Compression(); c {
		case compress.Codecs.Uncompressed, compress.Codecs.Snappy, compress.Codecs.Gzip, compress.Codecs.Brotli, compress.Codecs.Zstd:
		default:
			return &fault{Code: CodeCodec, Message: fmt.Sprintf("the column is compressed with %v, which is not read; write the file with zstd or snappy", c)}
		}
		for _, e := range chunk.Encodings() {
			if e.String() == "BYTE_STREAM_SPLIT" {
				return &fault{Code: CodeCodec, Message: fmt.Sprintf("the column is encoded as %v, which is not read; write the file with plain or dictionary encoding", e)}
			}
		}
	}
	return nil
}

// piece is one column of one batch, ready to be sent.
type piece struct {
	words []byte // new words of the dictionary; nil: as before
	cells []byte
	err   error
}

// decode sends the pieces of one field to out, batch after batch.
func (p *parquetFile) decode(ctx context.Context, field int, pool *buffers, out chan<- piece) {
	defer close(out)
	put := func(x piece) bool {
		select {
		case out <- x:
			return x.err == nil
		case <-ctx.Done():
			return false
		}
	}
	dec := chunkDecoder{d: &p.cols[field], pool: pool}
	for g, rows := range p.groups {
		var reader *pqarrow.ColumnReader
		err := guarded(func() (err error) {
			reader, err = p.arrow.GetFieldReader(ctx, field, map[int]bool{p.leaves[field]: true}, []int{g})
			return err
		})
		for left := rows; err == nil && left > 0; {
			n := min(left, batchRows)
			var x piece
			err = guarded(func() (err error) {
				x, err = dec.next(reader, n)
				return codecFault(err)
			})
			if err == nil && !put(x) {
				return
			}
			left -= n
		}
		if err != nil {
			put(piece{err: err})
			return
		}
	}
}

// chunkDecoder turns what the library reads of a column into pieces.
type chunkDecoder struct {
	d     *described
	pool  *buffers
	cells cells
	words words
}

func (d *chunkDecoder) next(r *pqarrow.ColumnReader, n int64) (piece, error) {
	chunked, err := r.NextBatch(n)
	if err != nil {
		return piece{}, err
	}
	defer chunked.Release()
	if int64(chunked.Len()) != n {
		return piece{}, faultf(CodeCorrupt, "a column ends before its row group does; the file is damaged: write it again")
	}
	arr := chunked.Chunks()[0]
	if len(chunked.Chunks()) > 1 {
		if arr, err = concatenate(chunked); err != nil {
			return piece{}, err
		}
		defer arr.Release()
	}
	var x piece
	if dict, ok := arr.(*array.Dictionary); ok {
		x.words, err = d.dictionary(dict)
	} else if isText(arr.DataType()) {
		err = d.cells.fillText(arr)
	} else {
		err = d.cells.fill(arr, d.d.zone)
	}
	if err != nil {
		return piece{}, err
	}
	x.cells = appendColumn(d.pool.get(), int(n), &d.cells.Column)
	return x, nil
}

// dictionary takes codes, and words where they differ from those sent last. Where
// nearly every row has a word of its own the cells become plain text.
func (d *chunkDecoder) dictionary(a *array.Dictionary) ([]byte, error) {
	values := a.Dictionary()
	if values.Len() > a.Len()/2+1024 {
		return nil, d.spell(a)
	}
	changed, err := d.words.update(values)
	if err != nil {
		return nil, err
	}
	if err := d.cells.fill(a.Indices(), nil); err != nil {
		return nil, err
	}
	d.cells.Null = d.cells.nulls(a)
	if err := d.words.dict.look(&d.cells); err != nil {
		return nil, err
	}
	if !changed {
		return nil, nil
	}
	return appendWords(nil, d.words.dict.words), nil
}

// spell writes each cell's word.
func (d *chunkDecoder) spell(a *array.Dictionary) error {
	var values cells
	if err := values.fillText(a.Dictionary()); err != nil {
		return err
	}
	d.cells.Column = table.Column{Null: d.cells.nulls(a)}
	d.cells.format(a.Len(), func(b []byte, i int) []byte { return append(b, values.Bytes(a.GetValueIndex(i))...) })
	return nil
}

// words is a dictionary as last sent.
type words struct {
	dict    dictionary
	offsets []byte
	text    []byte
}

// update takes over the values of a dictionary and reports whether they differ.
func (w *words) update(values arrow.Array) (bool, error) {
	bufs := values.Data().Buffers()
	if len(bufs) == 3 && values.Data().Offset() == 0 && w.dict.isText && values.NullN() == 0 && values.Len() == len(w.dict.words) {
		if bytes.Equal(bytesOf(bufs[1]), w.offsets) && bytes.Equal(bytesOf(bufs[2]), w.text) {
			return false, nil
		}
	}
	var c cells
	if err := c.fillText(values); err != nil {
		return false, err
	}
	w.dict = dictionary{isText: true, words: c.words(), null: c.Null}
	w.offsets, w.text = bytes.Clone(bytesOf(bufs[1])), bytes.Clone(bytesOf(bufs[2]))
	return true, nil
}

func bytesOf(b *memory.Buffer) []byte {
	if b == nil {
		return nil
	}
	return b.Bytes()
}

func concatenate(c *arrow.Chunked) (arrow.Array, error) {
	return array.Concatenate(c.Chunks(), memory.DefaultAllocator)
}
