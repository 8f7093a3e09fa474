package blobs_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync"
	"testing"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"

	"sheetwash/api/blobs"
)

// objectStore is a server of the S3 protocol on the loopback address.
type objectStore struct {
	*httptest.Server
	mu      sync.Mutex
	parts   int  // of uploads in parts, that were sent
	refuses bool // parts are answered with an error
}

// newObjectStore starts a store with the bucket "field".
func newObjectStore(t *testing.T) *objectStore {
	backend := s3mem.New()
	if err := backend.CreateBucket("field"); err != nil {
		t.Fatal(err)
	}
	protocol := gofakes3.New(backend).Server()
	s := &objectStore{}
	s.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodPut && r.URL.Query().Has("partNumber") {
			s.mu.Lock()
			s.parts++
			refuses := s.refuses
			s.mu.Unlock()
			if refuses {
				w.WriteHeader(http.StatusForbidden)
				return
			}
		}
		protocol.ServeHTTP(w, r)
	}))
	t.Cleanup(s.Close)
	return s
}

// open opens the bucket as the program does, by an address and the environment.
func (s *objectStore) open(t *testing.T) blobs.Blobs {
	t.Setenv("AWS_ACCESS_KEY_ID", "test")
	t.Setenv("AWS_SECRET_ACCESS_KEY", "test")
	options := url.Values{"endpoint": {s.URL}, "region": {"eu-west-1"}, "use_path_style": {"true"}, "prefix": {"kept/"}, "response_checksum_validation": {"when_required"}}
	return opened(t)(blobs.OpenBucket(context.Background(), "s3://field?"+options.Encode()))
}

// A blob of more than 16 MiB goes in parts of 5 MiB, and comes back as it was, as a
// whole and in ranges over their borders; a smaller one goes at once.
func TestLargeBlobsGoInParts(t *testing.T) {
	s := newObjectStore(t)
	b := s.open(t)
	ctx := context.Background()
	for _, size := range []int{5<<20 + 1, 16<<20 - 1, 16<<20 + 1, 23<<20 + 17} {
		data := make([]byte, size)
		for i := range data {
			data[i] = byte(i * 2654435761 >> 13)
		}
		s.parts = 0
		kept, err := b.Put(ctx, bytes.NewReader(data))
		if err != nil || kept.Bytes != int64(size) || kept.Digest != digest(string(data)) {
			t.Fatalf("put %d bytes: %+v, %v", size, kept, err)
		}
		want := 0
		if size > 16<<20 {
			want = (size + 5<<20 - 1) / (5 << 20)
		}
		if s.parts != want {
			t.Errorf("%d bytes went in %d parts, want %d", size, s.parts, want)
		}
		r, err := b.Open(ctx, kept.Digest)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := io.ReadAll(r); err != nil || !bytes.Equal(got, data) {
			t.Errorf("read %d of %d bytes: %v", len(got), size, err)
		}
		if err := r.Close(); err != nil {
			t.Error(err)
		}
		for _, at := range []int{0, 5<<20 - 100, size - 200} {
			part, err := b.Range(ctx, kept.Digest, int64(at), 199)
			if err != nil {
				t.Fatal(err)
			}
			if got, err := io.ReadAll(part); err != nil || !bytes.Equal(got, data[at:min(at+199, size)]) {
				t.Errorf("range at %d of %d: %d bytes, %v", at, size, len(got), err)
			}
			if err := part.Close(); err != nil {
				t.Error(err)
			}
		}
	}
}

// Where a part is refused, the upload fails and nothing of it is seen.
func TestRefusedPartLeavesNothing(t *testing.T) {
	s := newObjectStore(t)
	b := s.open(t)
	s.refuses = true
	data := strings.Repeat("x", 17<<20)
	if _, err := b.Put(context.Background(), strings.NewReader(data)); err == nil {
		t.Fatal("the upload was taken")
	}
	if _, err := b.Stat(context.Background(), digest(data)); !errors.Is(err, blobs.ErrNotFound) {
		t.Errorf("the blob is there: %v", err)
	}
	if err := b.List(context.Background(), func(k blobs.Blob) error { return fmt.Errorf("there is %+v", k) }); err != nil {
		t.Error(err)
	}
	s.mu.Lock()
	s.refuses = false
	s.mu.Unlock()
	if _, err := b.Put(context.Background(), strings.NewReader(data)); err != nil {
		t.Errorf("again: %v", err)
	}
}

// A list is longer than a page of the protocol, which has 1,000 keys.
func TestListOfManyPages(t *testing.T) {
	s := newObjectStore(t)
	b := s.open(t)
	const n = 1203
	for i := range n {
		if _, err := b.Put(context.Background(), strings.NewReader(fmt.Sprint(i))); err != nil {
			t.Fatal(err)
		}
	}
	seen := map[string]bool{}
	if err := b.List(context.Background(), func(k blobs.Blob) error { seen[k.Digest] = true; return nil }); err != nil {
		t.Fatal(err)
	}
	if len(seen) != n {
		t.Errorf("%d of %d blobs are listed", len(seen), n)
	}
}

// A store that is not there is an error of opening or of the first use, not a wait
// without end.
func TestAbsentStore(t *testing.T) {
	s := newObjectStore(t)
	b := s.open(t)
	s.Close()
	if err := b.Check(t.Context()); err == nil {
		t.Error("the check passes")
	}
	if _, err := b.Open(t.Context(), digest("x")); err == nil || errors.Is(err, blobs.ErrNotFound) {
		t.Errorf("a blob of an absent store: %v", err)
	}
}
