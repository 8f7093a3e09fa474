package blobs

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"gocloud.dev/blob"
	_ "gocloud.dev/blob/s3blob" // s3:// addresses
	"gocloud.dev/gcerrors"
)

// bucket keeps blobs in an object store, each under its digest.
type bucket struct {
	b *blob.Bucket
}

// OpenBucket keeps blobs in the bucket of a gocloud.dev address such as
// s3://bucket?region=eu-west-1&prefix=sheetwash/ . Credentials come from the
// environment as the AWS SDK reads it.
func OpenBucket(ctx context.Context, address string) (Blobs, error) {
	b, err := blob.OpenBucket(ctx, address)
	if err != nil {
		return nil, fmt.Errorf("open the bucket: %w", err)
	}
	return &bucket{b}, nil
}

// upload bounds the memory of a Put: parts of 5 MiB, two at a time.
var upload = blob.WriterOptions{BufferSize: 5 << 20, MaxConcurrency: 2, ContentType: "application/octet-stream"}

// Put implements Blobs. The bytes wait in a temporary file for their digest, which
// is their name, so that a reader that fails leaves nothing behind.
func (b *bucket) Put(ctx context.Context, r io.Reader) (kept Blob, err error) {
	spool, err := os.CreateTemp("", "sheetwash-put-*")
	if err != nil {
		return Blob{}, fmt.Errorf("keep a blob: %w", err)
	}
	defer func() { err = errors.Join(err, spool.Close(), os.Remove(spool.Name())) }()
	kept, err = copyHashed(ctx, spool, r)
	if err != nil {
		return Blob{}, err
	}
	if _, err := spool.Seek(0, io.SeekStart); err != nil {
		return Blob{}, fmt.Errorf("keep a blob: %w", err)
	}
	options := upload
	if err := b.b.Upload(ctx, kept.Digest, spool, &options); err != nil {
		return Blob{}, fmt.Errorf("keep a blob: %w", err)
	}
	return kept, nil
}

// missing makes the bucket's word for a missing blob ours.
func missing(what string, err error) error {
	if gcerrors.Code(err) == gcerrors.NotFound {
		return ErrNotFound
	}
	return fmt.Errorf("%s: %w", what, err)
}

// Open implements Blobs.
func (b *bucket) Open(ctx context.Context, digest string) (Reader, error) {
	if !proper(digest) {
		return nil, ErrNotFound
	}
	r, err := b.b.NewReader(ctx, digest, nil)
	if err != nil {
		return nil, missing("open a blob", err)
	}
	return verify(r, r.Size(), digest), nil
}

// Range implements Blobs.
func (b *bucket) Range(ctx context.Context, digest string, offset, length int64) (io.ReadCloser, error) {
	if !proper(digest) {
		return nil, ErrNotFound
	}
	r, err := b.b.NewRangeReader(ctx, digest, offset, length, nil)
	if err != nil {
		return nil, missing("open a blob", err)
	}
	return r, nil
}

// Stat implements Blobs.
func (b *bucket) Stat(ctx context.Context, digest string) (Blob, error) {
	if !proper(digest) {
		return Blob{}, ErrNotFound
	}
	a, err := b.b.Attributes(ctx, digest)
	if err != nil {
		return Blob{}, missing("ask for a blob", err)
	}
	return Blob{digest, a.Size, a.ModTime}, nil
}

// Delete implements Blobs.
func (b *bucket) Delete(ctx context.Context, digest string) error {
	if !proper(digest) {
		return nil
	}
	if err := b.b.Delete(ctx, digest); err != nil && gcerrors.Code(err) != gcerrors.NotFound {
		return fmt.Errorf("delete a blob: %w", err)
	}
	return nil
}

// DeleteOld implements Blobs.
func (b *bucket) DeleteOld(ctx context.Context, digest string, before time.Time) error {
	kept, err := b.Stat(ctx, digest)
	if errors.Is(err, ErrNotFound) || err == nil && !kept.Modified.Before(before) {
		return nil
	}
	if err != nil {
		return err
	}
	return b.Delete(ctx, digest)
}

// List implements Blobs.
func (b *bucket) List(ctx context.Context, do func(Blob) error) error {
	for all := b.b.List(nil); ; {
		o, err := all.Next(ctx)
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return fmt.Errorf("list the blobs: %w", err)
		}
		if o.IsDir || !proper(o.Key) {
			continue
		}
		if err := do(Blob{o.Key, o.Size, o.ModTime}); err != nil {
			return err
		}
	}
}

// Check implements Blobs.
func (b *bucket) Check(ctx context.Context) error { return probe(ctx, b) }

// Close implements Blobs.
func (b *bucket) Close() error { return b.b.Close() }
