package api

import (
	"net/http"
	"net/url"
	"slices"
	"time"

	"github.com/gin-gonic/gin"

	"sheetwash/api/problem"
	"sheetwash/api/store"
	"sheetwash/api/wire"
)

func showKey(k store.Key) wire.Key {
	return wire.Key{
		ID: k.ID, Name: k.Name, Role: k.Role, Seasons: append([]string{}, k.Seasons...), Origins: append([]string{}, k.Origins...),
		CreatedAt: k.CreatedAt, ExpiresAt: k.ExpiresAt, LastUsedAt: k.LastUsedAt, RevokedAt: k.RevokedAt,
		Links: wire.Links{"revoke": "/v1/keys/" + k.ID},
	}
}

// listKeys lists keys, without their secrets.
//
//	@Summary  List keys
//	@Tags     keys
//	@Produce  json
//	@Param    limit   query  int     false  "1 to 1000, default 100"
//	@Param    cursor  query  string  false  "from next_cursor"
//	@Param    sort    query  string  false  "id, name; - in front: descending"
//	@Success  200  {object}  wire.List[wire.Key]
//	@Failure  403  {object}  problem.Details
//	@Router   /v1/keys [get]
func (s *Server) listKeys(c *gin.Context) error {
	q := queryOf(c)
	p := q.page(c.Request.URL.Path)
	if q.err != nil {
		return q.err
	}
	l, err := s.store.Keys(c.Request.Context(), whoIs(c).scope, p)
	if err != nil {
		return err
	}
	return listOf(s, c, q, p, l, showKey)
}

// createKey makes a key and shows its secret this once. The answer to a repeated
// request does not hold it again: secrets are not kept.
//
//	@Summary      Make a key
//	@Description  The secret is shown in this answer alone. Idempotency-Key is not taken here, since a kept answer would keep the secret.
//	@Tags         keys
//	@Accept       json
//	@Produce      json
//	@Param        key  body      wire.NewKey  true  "the key"
//	@Success      201  {object}  wire.MadeKey
//	@Failure      403  {object}  problem.Details
//	@Router       /v1/keys [post]
func (s *Server) createKey(c *gin.Context) error {
	k, err := s.wantedKey(c)
	if err != nil {
		return err
	}
	secret, hash, err := store.NewSecret()
	if err != nil {
		return err
	}
	defer s.callers.forget()
	return s.create(c, nil, func(tx *store.Tx) (answer, error) {
		made, err := tx.CreateKey(c.Request.Context(), whoIs(c).scope, k, hash)
		if err != nil {
			return answer{}, err
		}
		a := answer{http.StatusCreated, map[string]string{"Location": "/v1/keys/" + made.ID}, wire.MadeKey{Key: showKey(made), Secret: secret}}
		return a, s.note(c, tx, audit{"key.create", "", made.ID, made.Role + " " + made.Name})
	})
}

// wantedKey reads the key that a caller asks for.
func (s *Server) wantedKey(c *gin.Context) (store.Key, error) {
	var in wire.NewKey
	if _, err := s.readJSON(c, mediaJSON, &in); err != nil {
		return store.Key{}, err
	}
	if c.GetHeader("Idempotency-Key") != "" {
		return store.Key{}, problem.New(problem.MalformedRequest, "a request for a key takes no Idempotency-Key: the answer holds a secret and is not kept. Revoke a key that got lost")
	}
	who := whoIs(c)
	k := store.Key{Name: in.Name, Role: in.Role, Seasons: in.Seasons, Origins: in.Origins, ExpiresAt: in.ExpiresAt, CreatedBy: who.signed()}
	return properKey(k, who, s.now())
}

// revokeKey ends a key for good.
//
//	@Summary      Revoke a key
//	@Description  It ends within 5 s on every node. Revoking again changes nothing.
//	@Tags         keys
//	@Produce      json
//	@Param        id   path      string  true  "id of the key"
//	@Success      200  {object}  wire.Key
//	@Failure      404  {object}  problem.Details
//	@Router       /v1/keys/{id} [delete]
func (s *Server) revokeKey(c *gin.Context) error {
	defer s.callers.forget()
	return s.change(c, func(tx *store.Tx) (any, error) {
		k, err := tx.RevokeKey(c.Request.Context(), whoIs(c).scope, c.Param("id"))
		if err != nil {
			return nil, err
		}
		return showKey(k), s.note(c, tx, audit{"key.revoke", "", k.ID, k.Name})
	})
}

// properKey refuses keys that cannot be, or that may more than their maker.
func properKey(k store.Key, who *caller, now time.Time) (store.Key, error) {
	switch {
	case rightOf(k.Role) == nobody:
		return k, problem.New(problem.MalformedRequest, "role %q is none of reader, recorder, manager", clip(k.Role))
	case !who.scope.All && len(k.Seasons) == 0:
		return k, problem.New(problem.NotAllowed, "a key for single seasons cannot make one for all; name the seasons")
	case !who.scope.All && slices.ContainsFunc(k.Seasons, func(id string) bool { return !slices.Contains(who.scope.Seasons, id) }):
		return k, problem.New(problem.NotAllowed, "a key cannot be made for seasons of others")
	case len(k.Origins) > 0 && k.Role != store.RoleReader:
		return k, problem.New(problem.MalformedRequest, "a key for pages of browsers has the role reader")
	case k.ExpiresAt != nil && !k.ExpiresAt.After(now):
		return k, problem.New(problem.MalformedRequest, "expires_at is not in the future")
	case len(k.Seasons) > 1000 || len(k.Origins) > 100:
		return k, problem.New(problem.MalformedRequest, "at most 1000 seasons and 100 origins are allowed")
	}
	for _, origin := range k.Origins {
		u, err := url.Parse(origin)
		if err != nil || (u.Scheme != "https" && u.Scheme != "http") || u.Host == "" || origin != u.Scheme+"://"+u.Host {
			return k, problem.New(problem.MalformedRequest, "%q is no origin such as https://dashboard.example", clip(origin))
		}
	}
	return k, properName("name", k.Name, true)
}
