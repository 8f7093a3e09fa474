package api

import (
	"context"
	"net/http"

	"github.com/gin-gonic/gin"

	"sheetwash/api/store"
)

// audit is what the audit log says of an effect.
type audit struct{ action, season, object, detail string }

// note adds a line to the audit log, in the transaction of the effect.
func (s *Server) note(c *gin.Context, tx *store.Tx, a audit) error {
	return tx.AppendAudit(c.Request.Context(), store.AuditEntry{
		SeasonID: a.season, Caller: whoIs(c).id, Action: a.action, Object: a.object, Detail: a.detail,
	})
}

// made is the answer to a request that made something.
func (s *Server) made(c *gin.Context, tx *store.Tx, a audit, at string, v any) (answer, error) {
	body, err := encode(v)
	if err != nil {
		return answer{}, err
	}
	header := map[string]string{"Location": at, "ETag": `"` + tagOf(body) + `"`}
	return answer{http.StatusCreated, header, v}, s.note(c, tx, a)
}

// change runs a change in a transaction and answers with what it returns: 204 for
// nil.
func (s *Server) change(c *gin.Context, effect func(*store.Tx) (any, error)) error {
	var v any
	err := s.store.InTx(c.Request.Context(), func(tx *store.Tx) error {
		var err error
		v, err = effect(tx)
		return err
	})
	if err != nil {
		return err
	}
	if v == nil {
		return s.give(c, answer{status: http.StatusNoContent})
	}
	body, err := encode(v)
	if err != nil {
		return err
	}
	return s.give(c, answer{http.StatusOK, map[string]string{"ETag": `"` + tagOf(body) + `"`}, v})
}

// matched reads the thing that a request changes, and checks that the caller has
// seen its present state.
func matched[R, W any](c *gin.Context, read func(context.Context, store.Scope, string) (R, error), show func(R) W) (R, error) {
	r, err := read(c.Request.Context(), whoIs(c).scope, c.Param("id"))
	if err != nil {
		return r, err
	}
	return r, mustMatch(c, show(r))
}

// edited changes the record that the address names, whose present state the caller
// has seen, and answers with it.
func edited[R, W any](s *Server, c *gin.Context, read func(*store.Tx, context.Context, store.Scope, string) (R, error), show func(R) W, write func(*store.Tx, R) (R, audit, error)) error {
	return s.change(c, func(tx *store.Tx) (any, error) {
		r, err := matched(c, func(ctx context.Context, scope store.Scope, id string) (R, error) { return read(tx, ctx, scope, id) }, show)
		if err != nil {
			return nil, err
		}
		r, a, err := write(tx, r)
		if err != nil {
			return nil, err
		}
		return show(r), s.note(c, tx, a)
	})
}
