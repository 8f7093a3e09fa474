package table

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"errors"
	"io"
	"path"
	"strings"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"
)

// maxWindow bounds what a zstd stream may ask to have held in memory, in bytes.
const maxWindow = 128 << 20

// compression is how the bytes of a file are packed.
type compression uint8

const (
	plain compression = iota
	gzipped
	zstandard
)

func (c compression) String() string {
	switch c {
	case gzipped:
		return "gzip"
	case zstandard:
		return "zstd"
	default:
		return "plain"
	}
}

// errLimit says that the expanded text is longer than was allowed.
var errLimit = errors.New("longer than the limit")

// compressionByName judges by the extension, compressionByContent by the first bytes.
func compressionByName(file string) compression {
	switch strings.ToLower(path.Ext(file)) {
	case ".gz", ".gzip":
		return gzipped
	case ".zst", ".zstd":
		return zstandard
	}
	return plain
}

func compressionByContent(head []byte) compression {
	switch {
	case bytes.HasPrefix(head, []byte{0x1f, 0x8b}):
		return gzipped
	case bytes.HasPrefix(head, []byte{0x28, 0xb5, 0x2f, 0xfd}):
		return zstandard
	}
	return plain
}

// rawReader remembers whether the input itself failed, so that a fault of the
// medium is told from damaged data.
type rawReader struct {
	r   io.Reader
	err error
}

func (r *rawReader) Read(p []byte) (int, error) {
	n, err := r.r.Read(p)
	if err != nil && err != io.EOF && !damaged(err) {
		r.err = err
	}
	return n, err
}

// damaged reports whether a reader ended early because of what it read: the
// input may be a member of an archive, which the caller expands.
func damaged(err error) bool {
	var corrupt flate.CorruptInputError
	return errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, zip.ErrChecksum) || errors.Is(err, zip.ErrFormat) || errors.As(err, &corrupt)
}

// expand returns a reader of the expanded bytes.
func expand(r io.Reader, c compression) (io.Reader, error) {
	switch c {
	case gzipped:
		return gzip.NewReader(r)
	case zstandard:
		d, err := zstd.NewReader(r, zstd.WithDecoderConcurrency(1), zstd.WithDecoderLowmem(true), zstd.WithDecoderMaxWindow(maxWindow))
		if err != nil {
			return nil, err
		}
		return d.IOReadCloser(), nil
	}
	return r, nil
}

// limited fails with errLimit once more than left bytes were read.
type limited struct {
	r    io.Reader
	left int64
}

func (l *limited) Read(p []byte) (int, error) {
	if int64(len(p)) > l.left+1 {
		p = p[:l.left+1]
	}
	n, err := l.r.Read(p)
	if l.left -= int64(n); l.left < 0 {
		return n + int(l.left), errLimit
	}
	return n, err
}
