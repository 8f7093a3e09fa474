package blobs

import (
	"context"
	"errors"
	"io"
	"time"
)

// What callers test for.
var (
	ErrNotFound = errors.New("there is no such blob")
	ErrDamaged  = errors.New("a blob's bytes are not those of its digest")
)

// Blob is what is known of kept bytes.
type Blob struct {
	Digest   string // SHA-256, lower-case hexadecimal
	Bytes    int64
	Modified time.Time // when it was last put
}

// Reader reads a blob from its start, or from where Seek put it. Whoever reads it
// from start to end without Seek gets ErrDamaged instead of io.EOF if the bytes are
// not those that were put.
type Reader interface {
	io.ReadSeekCloser
	Size() int64
}

// Blobs keeps bytes under their digest, which is 64 lower-case hexadecimal digits;
// a digest that is not is ErrNotFound. What Put returned without error survives a
// power failure. All methods may be called at the same time.
type Blobs interface {
	// Put keeps what it reads, to the end. An error of the reader is returned as
	// it is and nothing is kept. Putting the same bytes again is no error and makes
	// Modified now.
	Put(ctx context.Context, r io.Reader) (Blob, error)
	// Open opens a blob, or returns ErrNotFound.
	Open(ctx context.Context, digest string) (Reader, error)
	// Range opens length bytes from an offset; fewer where the blob ends before.
	Range(ctx context.Context, digest string, offset, length int64) (io.ReadCloser, error)
	// Stat tells about a blob, or returns ErrNotFound.
	Stat(ctx context.Context, digest string) (Blob, error)
	// Delete deletes a blob; one that is not there is no error.
	Delete(ctx context.Context, digest string) error
	// DeleteOld deletes a blob if it was last put before a time. A Put at the same
	// time wins on files; in a bucket, which cannot compare and delete in one step,
	// it wins unless it falls between the two.
	DeleteOld(ctx context.Context, digest string, before time.Time) error
	// List calls do for every blob, in no order, until it returns an error.
	List(ctx context.Context, do func(Blob) error) error
	// Check writes, reads and deletes a probe.
	Check(ctx context.Context) error
	// Close ends the use.
	Close() error
}
