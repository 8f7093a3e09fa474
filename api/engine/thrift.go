package engine

import (
	"runtime/debug"
	"sync"

	"sheetwash/api"
)

// Uploads of large bytes and more are read with a heap that grows by thrifty
// percent between collections: a table of bottles of 100 MB then stays under 256 MB
// resident, and takes a sixth more of the processor (docs/performance.md).
const (
	large   = 16 << 20
	thrifty = 15
)

// thrift counts the large uploads that are read. The pace of the collector is one
// for the whole process: the first sets it, the last puts it back.
type thrift struct {
	mu              sync.Mutex
	reading, before int
}

// begin is called before an upload is read, and what it returns after.
func (t *thrift) begin(u api.Upload) (end func()) {
	var bytes int64
	for _, f := range u.Files {
		bytes += f.Bytes
	}
	if bytes < large {
		return func() {}
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.reading++; t.reading == 1 {
		if t.before = debug.SetGCPercent(thrifty); t.before < thrifty {
			debug.SetGCPercent(t.before) // the operator wants it closer, or off
		}
	}
	return func() {
		t.mu.Lock()
		defer t.mu.Unlock()
		if t.reading--; t.reading == 0 {
			debug.SetGCPercent(t.before)
		}
	}
}
