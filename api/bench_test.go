package api_test

import (
	"net/http"
	"net/http/httptest"
	"testing"

	"github.com/gin-gonic/gin"
)

// A page of a result table as it is answered from its stored encoding, and from a
// bare handler that has the same bytes.
func BenchmarkTablePage(b *testing.B) {
	s := newService(b)
	_, id := s.analysed("01-ashlock-mill")
	at := "/v1/analyses/" + id + "/plot_results?limit=100"
	body := s.get(at).want(200).body
	bare := gin.New()
	bare.GET("/v1/analyses/:id/:table", func(c *gin.Context) { c.Data(http.StatusOK, "application/json", body) })
	for _, h := range []struct {
		name    string
		handler http.Handler
	}{{"bare", bare}, {"stored", s.api.Handler()}} {
		b.Run(h.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				w := httptest.NewRecorder()
				h.handler.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "http://localhost"+at, nil))
				if w.Code != http.StatusOK || w.Body.Len() != len(body) {
					b.Fatalf("%d, %d bytes", w.Code, w.Body.Len())
				}
			}
		})
	}
}
