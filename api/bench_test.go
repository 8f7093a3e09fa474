package api_test

import (
	"context"
	"io"
	"net"
	"net/http"
	"testing"

	"github.com/gin-gonic/gin"

	"sheetwash/api"
)

// A page of a result table over a connection that stays: from a bare handler that has
// the same bytes, from the memory of ready answers, and the same unchanged. With
// GOMAXPROCS=1 it is the time of both ends.
func BenchmarkTablePage(b *testing.B) {
	s := newService(b, func(o *api.Options) { o.Log = nil })
	_, id := s.analysed("01-ashlock-mill")
	at := "/v1/analyses/" + id + "/plot_results?limit=100"
	first := s.get(at).want(200)
	bare := gin.New()
	bare.GET("/v1/analyses/:id/:table", func(c *gin.Context) { c.Data(http.StatusOK, "application/json", first.body) })
	other := &http.Server{Handler: bare}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		b.Fatal(err)
	}
	go func() { _ = other.Serve(l) }()
	defer other.Close()
	ctx, cancel := context.WithCancel(b.Context())
	defer cancel()
	ours, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		b.Fatal(err)
	}
	go func() { _ = s.api.Serve(ctx, ours) }()
	for _, way := range []struct{ name, address, header string }{
		{"bare", l.Addr().String(), ""}, {"ready", ours.Addr().String(), ""},
		{"unchanged", ours.Addr().String(), "If-None-Match: " + first.header.Get("ETag") + "\r\n"},
	} {
		b.Run(way.name, func(b *testing.B) {
			c, err := net.Dial("tcp", way.address)
			if err != nil {
				b.Fatal(err)
			}
			defer c.Close()
			request := []byte("GET " + at + " HTTP/1.1\r\nHost: 127.0.0.1\r\n" + way.header + "\r\n")
			want, answer := 200, make([]byte, len(first.body)+4096)
			if way.header == "" {
				want = len(first.body)
			}
			if _, err := c.Write(request); err != nil {
				b.Fatal(err)
			}
			size, err := io.ReadAtLeast(c, answer, want+1)
			if err != nil {
				b.Fatal(err)
			}
			b.ReportAllocs()
			for b.Loop() { // answers differ in the request id alone
				if _, err := c.Write(request); err != nil {
					b.Fatal(err)
				}
				if _, err := io.ReadFull(c, answer[:size]); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
