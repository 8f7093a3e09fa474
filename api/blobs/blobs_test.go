package blobs_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/iotest"
	"time"

	_ "gocloud.dev/blob/fileblob"
	_ "gocloud.dev/blob/memblob"

	"sheetwash/api/blobs"
)

func digest(text string) string {
	d := sha256.Sum256([]byte(text))
	return hex.EncodeToString(d[:])
}

// places are where blobs are kept; all do the same.
var places = map[string]func(*testing.T) blobs.Blobs{
	"files": func(t *testing.T) blobs.Blobs { return opened(t)(blobs.OpenFiles(filepath.Join(t.TempDir(), "blobs"))) },
	"bucket in memory": func(t *testing.T) blobs.Blobs {
		return opened(t)(blobs.OpenBucket(context.Background(), "mem://"))
	},
	"bucket in a folder": func(t *testing.T) blobs.Blobs {
		return opened(t)(blobs.OpenBucket(context.Background(), "file://"+filepath.ToSlash(t.TempDir())+"?metadata=skip&prefix=kept/"))
	},
	"S3": func(t *testing.T) blobs.Blobs { return newObjectStore(t).open(t) },
}

func opened(t *testing.T) func(blobs.Blobs, error) blobs.Blobs {
	return func(b blobs.Blobs, err error) blobs.Blobs {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() {
			if err := b.Close(); err != nil {
				t.Error(err)
			}
		})
		return b
	}
}

func TestBlobs(t *testing.T) {
	for name, place := range places {
		t.Run(name, func(t *testing.T) {
			b := place(t)
			t.Run("put and read", func(t *testing.T) { putAndRead(t, b) })
			t.Run("missing", func(t *testing.T) { missing(t, b) })
			t.Run("a reader that fails leaves nothing", func(t *testing.T) { failingReader(t, b) })
			t.Run("list and delete", func(t *testing.T) { listAndDelete(t, b) })
			t.Run("at the same time", func(t *testing.T) { sameTime(t, b) })
			if err := b.Check(context.Background()); err != nil {
				t.Errorf("check: %v", err)
			}
		})
	}
}

func putAndRead(t *testing.T, b blobs.Blobs) {
	ctx := context.Background()
	for _, text := range []string{"", "x", strings.Repeat("0123456789", 100_000)} {
		kept, err := b.Put(ctx, strings.NewReader(text))
		if err != nil || kept.Digest != digest(text) || kept.Bytes != int64(len(text)) {
			t.Fatalf("put %d bytes: %+v, %v", len(text), kept, err)
		}
		if again, err := b.Put(ctx, strings.NewReader(text)); err != nil || again.Digest != kept.Digest {
			t.Fatalf("put again: %+v, %v", again, err)
		}
		r, err := b.Open(ctx, kept.Digest)
		if err != nil {
			t.Fatal(err)
		}
		got, err := io.ReadAll(r)
		if err != nil || string(got) != text || r.Size() != int64(len(text)) {
			t.Errorf("read %d of %d bytes, size %d, %v", len(got), len(text), r.Size(), err)
		}
		if _, err := r.Seek(int64(len(text)/2), io.SeekStart); err != nil {
			t.Error(err)
		}
		if got, err := io.ReadAll(r); err != nil || string(got) != text[len(text)/2:] {
			t.Errorf("after a seek to the middle: %d bytes, %v", len(got), err)
		}
		if err := r.Close(); err != nil {
			t.Error(err)
		}
		if s, err := b.Stat(ctx, kept.Digest); err != nil || s.Bytes != int64(len(text)) || s.Modified.IsZero() {
			t.Errorf("stat: %+v, %v", s, err)
		}
	}
	whole := strings.Repeat("0123456789", 100_000)
	for _, tt := range []struct{ offset, length int64 }{{0, 1}, {5, 10}, {999_990, 10}, {999_990, 50}, {0, 1_000_000}} {
		r, err := b.Range(ctx, digest(whole), tt.offset, tt.length)
		if err != nil {
			t.Fatal(err)
		}
		got, err := io.ReadAll(r)
		want := whole[tt.offset:min(tt.offset+tt.length, int64(len(whole)))]
		if err != nil || string(got) != want {
			t.Errorf("%d bytes from %d: got %d bytes, %v", tt.length, tt.offset, len(got), err)
		}
		if err := r.Close(); err != nil {
			t.Error(err)
		}
	}
}

func missing(t *testing.T, b blobs.Blobs) {
	ctx := context.Background()
	for _, name := range []string{digest("nobody put this"), "", "../../etc/passwd", strings.ToUpper(digest("x")), strings.Repeat("g", 64)} {
		if _, err := b.Open(ctx, name); !errors.Is(err, blobs.ErrNotFound) {
			t.Errorf("open %q: %v", name, err)
		}
		if _, err := b.Range(ctx, name, 0, 1); !errors.Is(err, blobs.ErrNotFound) {
			t.Errorf("range of %q: %v", name, err)
		}
		if _, err := b.Stat(ctx, name); !errors.Is(err, blobs.ErrNotFound) {
			t.Errorf("stat %q: %v", name, err)
		}
		if err := b.Delete(ctx, name); err != nil {
			t.Errorf("delete %q: %v", name, err)
		}
	}
}

func failingReader(t *testing.T, b blobs.Blobs) {
	ctx := context.Background()
	stop := errors.New("the connection broke")
	text := strings.Repeat("cut off ", 50_000)
	if _, err := b.Put(ctx, io.MultiReader(strings.NewReader(text), iotest.ErrReader(stop))); !errors.Is(err, stop) {
		t.Errorf("put: %v, want the reader's error", err)
	}
	if _, err := b.Stat(ctx, digest(text)); !errors.Is(err, blobs.ErrNotFound) {
		t.Errorf("what was cut off is there: %v", err)
	}
	ended, end := context.WithCancel(ctx)
	end()
	if _, err := b.Put(ended, strings.NewReader(text)); !errors.Is(err, context.Canceled) {
		t.Errorf("put after the end: %v", err)
	}
}

func listAndDelete(t *testing.T, b blobs.Blobs) {
	ctx := context.Background()
	mine := []string{digest("one"), digest("two"), digest("three")}
	for _, text := range []string{"one", "two", "three"} {
		if _, err := b.Put(ctx, strings.NewReader(text)); err != nil {
			t.Fatal(err)
		}
	}
	listed := func() (found []string) {
		t.Helper()
		if err := b.List(ctx, func(l blobs.Blob) error {
			if time.Since(l.Modified).Abs() > time.Hour {
				t.Errorf("%s was put at %v", l.Digest, l.Modified)
			}
			if slices.Contains(mine, l.Digest) {
				found = append(found, l.Digest)
			}
			return nil
		}); err != nil {
			t.Fatal(err)
		}
		return found
	}
	if got := listed(); len(got) != 3 {
		t.Errorf("listed %d, want 3", len(got))
	}
	if err := b.Delete(ctx, mine[0]); err != nil {
		t.Fatal(err)
	}
	if got := listed(); len(got) != 2 || slices.Contains(got, mine[0]) {
		t.Errorf("after a deletion: %v", got)
	}
	for _, tt := range []struct {
		before time.Time
		left   int
	}{{time.Now().Add(-time.Hour), 2}, {time.Now().Add(time.Hour), 1}} {
		if err := b.DeleteOld(ctx, mine[1], tt.before); err != nil {
			t.Fatal(err)
		}
		if got := listed(); len(got) != tt.left {
			t.Errorf("after deleting what is older than %v: %v", tt.before, got)
		}
	}
	if err := b.DeleteOld(ctx, mine[1], time.Now()); err != nil {
		t.Errorf("deleting what is not there: %v", err)
	}
	stop := errors.New("enough")
	if err := b.List(ctx, func(blobs.Blob) error { return stop }); !errors.Is(err, stop) {
		t.Errorf("a list that is stopped: %v", err)
	}
}

func sameTime(t *testing.T, b blobs.Blobs) {
	ctx := context.Background()
	text := []byte(strings.Repeat("the same bytes ", 10_000))
	errs := make([]error, 8)
	var all sync.WaitGroup
	for i := range errs {
		all.Go(func() {
			kept, err := b.Put(ctx, bytes.NewReader(text))
			if err != nil {
				errs[i] = err
				return
			}
			r, err := b.Open(ctx, kept.Digest)
			if err != nil {
				errs[i] = err
				return
			}
			_, err = io.Copy(io.Discard, r)
			errs[i] = errors.Join(err, r.Close())
		})
	}
	all.Wait()
	if err := errors.Join(errs...); err != nil {
		t.Error(err)
	}
}

// Bytes that changed on the disk are noticed at the end of the read, and mended by
// the same upload.
func TestDamage(t *testing.T) {
	ctx := context.Background()
	folder := t.TempDir()
	b := opened(t)(blobs.OpenFiles(folder))
	kept, err := b.Put(ctx, strings.NewReader("barley"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(folder, kept.Digest[:2], kept.Digest), []byte("Barley"), 0o644); err != nil {
		t.Fatal(err)
	}
	read := func() error {
		r, err := b.Open(ctx, kept.Digest)
		if err != nil {
			return err
		}
		_, err = io.ReadAll(r)
		return errors.Join(err, r.Close())
	}
	if err := read(); !errors.Is(err, blobs.ErrDamaged) {
		t.Errorf("a damaged blob: %v, want ErrDamaged", err)
	}
	if _, err := b.Put(ctx, strings.NewReader("barley")); err != nil {
		t.Fatal(err)
	}
	if err := read(); err != nil {
		t.Errorf("after the upload was repeated: %v", err)
	}
}

// A file that a killed process left half written goes after a day, one of today
// stays, and a fresh blob that was taken out of the way is put back.
func TestTidy(t *testing.T) {
	folder := t.TempDir()
	opened(t)(blobs.OpenFiles(folder))
	aside := filepath.Join(folder, "temporary", "old-"+digest("barley"))
	if err := os.WriteFile(aside, []byte("barley"), 0o644); err != nil {
		t.Fatal(err)
	}
	old, fresh := filepath.Join(folder, "temporary", "put-1"), filepath.Join(folder, "temporary", "put-2")
	for _, name := range []string{old, fresh} {
		if err := os.WriteFile(name, []byte("half"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	yesterday := time.Now().Add(-25 * time.Hour)
	if err := os.Chtimes(old, yesterday, yesterday); err != nil {
		t.Fatal(err)
	}
	b := opened(t)(blobs.OpenFiles(folder))
	if _, err := b.Stat(context.Background(), digest("barley")); err != nil {
		t.Errorf("the blob that was taken out of the way: %v", err)
	}
	if _, err := os.Stat(old); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the old file: %v", err)
	}
	if _, err := os.Stat(fresh); err != nil {
		t.Errorf("the fresh file: %v", err)
	}
}
