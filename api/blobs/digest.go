package blobs

import (
	"bytes"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"time"
)

// proper reports whether a text is the digest of a blob, and thus safe as a name.
func proper(digest string) bool {
	if len(digest) != hex.EncodedLen(sha256.Size) {
		return false
	}
	for _, c := range []byte(digest) {
		if (c < '0' || c > '9') && (c < 'a' || c > 'f') {
			return false
		}
	}
	return true
}

// copyHashed copies to the end of a reader and returns the blob that was copied. An
// error of the reader is returned as it is.
func copyHashed(ctx context.Context, to io.Writer, from io.Reader) (Blob, error) {
	h := sha256.New()
	buffer := make([]byte, 128<<10)
	var size int64
	for {
		n, err := from.Read(buffer)
		h.Write(buffer[:n]) // never fails
		size += int64(n)
		if _, err := to.Write(buffer[:n]); err != nil {
			return Blob{}, fmt.Errorf("keep a blob: %w", err)
		}
		switch {
		case errors.Is(err, io.EOF):
			return Blob{hex.EncodeToString(h.Sum(nil)), size, time.Now()}, nil
		case err != nil:
			return Blob{}, err
		case ctx.Err() != nil:
			return Blob{}, context.Cause(ctx)
		}
	}
}

// verified is a reader that compares what was read with the digest at the end.
type verified struct {
	io.ReadSeekCloser
	size   int64
	hash   hash.Hash // nil once Seek was called
	digest string
}

func verify(r io.ReadSeekCloser, size int64, digest string) Reader {
	return &verified{r, size, sha256.New(), digest}
}

func (v *verified) Size() int64 { return v.size }

func (v *verified) Read(p []byte) (int, error) {
	n, err := v.ReadSeekCloser.Read(p)
	if v.hash == nil {
		return n, err
	}
	v.hash.Write(p[:n])
	if errors.Is(err, io.EOF) && hex.EncodeToString(v.hash.Sum(nil)) != v.digest {
		err = fmt.Errorf("%w: %s", ErrDamaged, v.digest)
	}
	return n, err
}

func (v *verified) Seek(offset int64, whence int) (int64, error) {
	v.hash = nil
	return v.ReadSeekCloser.Seek(offset, whence)
}

// probe puts, reads and deletes a few random bytes.
func probe(ctx context.Context, b Blobs) error {
	var want [16]byte
	if _, err := rand.Read(want[:]); err != nil {
		return err
	}
	blob, err := b.Put(ctx, bytes.NewReader(want[:]))
	if err != nil {
		return err
	}
	r, err := b.Open(ctx, blob.Digest)
	if err != nil {
		return err
	}
	_, err = io.Copy(io.Discard, r)
	return errors.Join(err, r.Close(), b.Delete(ctx, blob.Digest))
}
