package api

import (
	"context"
	"errors"
	"net/http"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"sheetwash/api/problem"
	"sheetwash/api/store"
)

// rightOf is what a role may.
func rightOf(role string) right {
	switch role {
	case store.RoleReader:
		return reads
	case store.RoleRecorder:
		return records
	case store.RoleManager:
		return manages
	}
	return nobody
}

// admitted lets through who has the right of the route, at the rate that they may.
func (s *Server) admitted(r route) gin.HandlerFunc {
	return func(c *gin.Context) {
		who, err := s.signIn(c.Request)
		if err == nil {
			c.Set(keyCaller, who)
			err = s.admit(c, r, who)
		}
		if err != nil {
			s.fail(c, err)
		}
	}
}

func (s *Server) admit(c *gin.Context, r route, who *caller) error {
	if err := s.shared(c, who); err != nil {
		return err
	}
	published := r.right == reads && s.access.Published && who.id == anonymous
	if !who.may(r.right) && !published {
		if who.id == anonymous {
			return problem.New(problem.NotSignedIn, "this needs a key: Authorization: Bearer KEY")
		}
		return problem.New(problem.NotAllowed, "the role of this key does not allow this")
	}
	if probe(r.path) {
		return nil
	}
	return s.callers.allow(who, r.method != http.MethodGet)
}

// probe reports whether a path is asked by machines that watch the service.
func probe(path string) bool { return path == "/healthz" || path == "/readyz" }

// signIn finds out who sent a request.
func (s *Server) signIn(r *http.Request) (*caller, error) {
	header := credential(r)
	from := address(r)
	open, err := s.open(r.Context())
	if err != nil {
		return nil, err
	}
	if open {
		return theOperator, nil
	}
	if header == "" {
		return &caller{id: anonymous, bucket: "address " + from, scope: store.Scope{Published: s.access.Published}}, nil
	}
	if s.callers.blocked(from) {
		e := problem.New(problem.RateLimited, "too many sign-ins from this address failed")
		e.RetryAfter = 60e9 / 10
		return nil, e
	}
	who, err := s.keyHolder(r, header)
	if errors.Is(err, store.ErrNotFound) {
		s.callers.failed(from)
		return nil, problem.New(problem.NotSignedIn, "the key is unknown, expired or revoked")
	}
	return who, err
}

// open reports whether everybody who reaches the address may do everything: only
// as long as there is no key.
func (s *Server) open(ctx context.Context) (bool, error) {
	if !s.access.Open {
		return false, nil
	}
	keyed, err := s.callers.keyed.get(func() (bool, error) { return AnyKey(ctx, s.store, s.now()) })
	return !keyed, err
}

// AnyKey reports whether there is a key that is valid.
func AnyKey(ctx context.Context, records *store.Store, now time.Time) (bool, error) {
	for page := (store.Page{Limit: 1000}); ; {
		l, err := records.Keys(ctx, store.Everything, page)
		if err != nil {
			return false, err
		}
		for _, k := range l.Rows {
			if valid(k, now) {
				return true, nil
			}
		}
		if page.After = l.Next; !l.More {
			return false, nil
		}
	}
}

func valid(k store.Key, now time.Time) bool {
	return k.RevokedAt == nil && (k.ExpiresAt == nil || k.ExpiresAt.After(now))
}

// keyHolder returns the caller whose key a header names, or store.ErrNotFound.
// The store compares hashes, so that the time it takes tells nothing of a secret.
func (s *Server) keyHolder(r *http.Request, header string) (*caller, error) {
	secret, ok := bearer(header)
	if !ok {
		return nil, store.ErrNotFound
	}
	hash := store.HashSecret(secret)
	if who, ok := s.callers.key(hash); ok {
		return who, nil
	}
	k, err := s.store.KeyBySecretHash(r.Context(), hash)
	if err != nil {
		return nil, err
	}
	who := &caller{id: k.ID, bucket: "key " + k.ID, role: rightOf(k.Role), scope: k.Scope(), origins: k.Origins}
	s.callers.remember(hash, who, k.ExpiresAt)
	if err := s.store.TouchKey(r.Context(), k.ID); err != nil {
		s.log.WarnContext(r.Context(), "last use of a key not noted", "key", k.ID, "err", err)
	}
	return who, nil
}

// bearer is the secret in an Authorization header.
func bearer(header string) (secret string, ok bool) {
	scheme, secret, _ := strings.Cut(header, " ")
	secret = strings.TrimSpace(secret)
	return secret, strings.EqualFold(scheme, "Bearer") && secret != "" && len(secret) <= 512
}

// whoIs returns the caller of an admitted request.
func whoIs(c *gin.Context) *caller {
	if who, ok := c.Get(keyCaller); ok {
		return who.(*caller)
	}
	return &caller{id: anonymous}
}

func whoName(c *gin.Context) string { return whoIs(c).id }
