package api

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"sheetwash/api/problem"
	"sheetwash/api/store"
)

// lease is how long a request with an Idempotency-Key may go without a sign of
// life before its repetition takes over.
const lease = 60 * time.Second

// request is a creating request that is known to the last byte.
type request struct {
	claim   *store.Claim // nil: without an Idempotency-Key
	server  *Server
	stop    func()
	settled bool
}

// begin claims a creating request by its Idempotency-Key. It answers a request
// that was answered before; then the result is nil without an error.
func (s *Server) begin(c *gin.Context, content []byte) (*request, error) {
	keys := c.Request.Header.Values("Idempotency-Key")
	if len(keys) == 0 {
		return &request{server: s, stop: func() {}}, nil
	}
	if len(keys) > 1 || len(keys[0]) < 1 || len(keys[0]) > 255 {
		return nil, problem.New(problem.MalformedRequest, "Idempotency-Key has 1 to 255 characters and is given once")
	}
	who := whoIs(c)
	r := store.Request{Caller: who.bucket, Route: c.Request.Method + " " + c.Request.URL.Path, Key: keys[0]}
	r.Hash = sha256.Sum256(append([]byte(c.GetHeader("Content-Type")+"\x00"+c.Request.URL.Query().Encode()+"\x00"), content...))
	claim, before, err := s.store.BeginIdempotent(c.Request.Context(), r, lease)
	if err != nil {
		return nil, err
	}
	if before != nil {
		return nil, s.replay(c, before)
	}
	return s.hold(c.Request.Context(), claim), nil
}

// hold renews the lease of a claim until the request is settled.
func (s *Server) hold(ctx context.Context, claim *store.Claim) *request {
	ctx, cancel := context.WithCancel(ctx)
	done := make(chan struct{})
	go func() {
		defer close(done)
		for t := time.NewTicker(lease / 3); ; {
			select {
			case <-ctx.Done():
				t.Stop()
				return
			case <-t.C:
				if err := s.store.RenewIdempotent(ctx, claim, lease); err != nil && ctx.Err() == nil {
					s.log.WarnContext(ctx, "lease of a request not renewed", "err", err)
				}
			}
		}
	}()
	return &request{claim: claim, server: s, stop: func() { cancel(); <-done }}
}

// do runs the effect of the request in a transaction that keeps its answer, and
// returns the answer. Whoever has an error from it has left nothing behind.
func (r *request) do(ctx context.Context, effect func(*store.Tx) (answer, error)) (answer, error) {
	var a answer
	err := r.server.store.InTx(ctx, func(tx *store.Tx) error {
		var err error
		if a, err = effect(tx); err != nil || r.claim == nil {
			return err
		}
		kept, err := a.keep()
		if err != nil {
			return err
		}
		return tx.FinishIdempotent(ctx, r.claim, kept)
	})
	r.settled = err == nil
	return a, err
}

// close ends the request: a claim without effect is given up.
func (r *request) close(ctx context.Context) {
	r.stop()
	if r.claim == nil || r.settled {
		return
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
	defer cancel()
	if err := r.server.store.ReleaseIdempotent(ctx, r.claim); err != nil {
		r.server.log.WarnContext(ctx, "claim of a request not released; it ends by itself", "err", err)
	}
}

// keep is the answer as the store keeps it.
func (a answer) keep() (store.Answer, error) {
	kept := store.Answer{Status: a.status, Header: map[string][]string{}}
	for name, value := range a.header {
		kept.Header[name] = []string{value}
	}
	if a.body == nil {
		return kept, nil
	}
	body, err := encode(a.body)
	kept.Body = body
	return kept, err
}

// replay gives the answer that the first such request had.
func (s *Server) replay(c *gin.Context, before *store.Answer) error {
	a := answer{status: before.Status, header: map[string]string{"Idempotency-Replayed": "true"}}
	for name, values := range before.Header {
		a.header[http.CanonicalHeaderKey(name)] = values[0]
	}
	if len(before.Body) > 0 {
		a.body = json.RawMessage(before.Body)
	}
	return s.give(c, a)
}

// create is the whole of a creating request whose content is a JSON body.
func (s *Server) create(c *gin.Context, content []byte, effect func(*store.Tx) (answer, error)) error {
	r, err := s.begin(c, content)
	if r == nil || err != nil {
		return err
	}
	defer r.close(c.Request.Context())
	a, err := r.do(c.Request.Context(), effect)
	if err != nil {
		return err
	}
	return s.give(c, a)
}
