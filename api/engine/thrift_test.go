package engine

import (
	"runtime/debug"
	"testing"

	"sheetwash/api"
)

// The pace of the collector is back when the last large upload has been read, and
// small ones leave it alone.
func TestThriftPutsThePaceBack(t *testing.T) {
	before := debug.SetGCPercent(150)
	defer debug.SetGCPercent(before)
	now := func() int {
		p := debug.SetGCPercent(1000)
		debug.SetGCPercent(p)
		return p
	}
	upload := func(bytes int64) api.Upload {
		return api.Upload{Files: []api.UploadFile{{Bytes: bytes}, {Bytes: bytes}}}
	}
	var pace thrift
	small := pace.begin(upload(1000))
	if now() != 150 {
		t.Errorf("a small upload makes it %d", now())
	}
	one, two := pace.begin(upload(large)), pace.begin(upload(large/2))
	small()
	one()
	if now() != thrifty {
		t.Errorf("%d while a large upload is read, not %d", now(), thrifty)
	}
	two()
	if now() != 150 {
		t.Errorf("%d afterwards, not 150", now())
	}
	debug.SetGCPercent(10)
	end := pace.begin(upload(large))
	if now() != 10 {
		t.Errorf("%d where the operator asked for 10", now())
	}
	end()
}
