package storetest

import (
	"context"
	"crypto/sha256"
	"errors"
	"reflect"
	"sync"
	"testing"
	"time"

	"sheetwash/api/store"
)

func request(key, body string) store.Request {
	return store.Request{Caller: "caller", Route: "POST /v1/analyses", Key: key, Hash: sha256.Sum256([]byte(body))}
}

var answer = store.Answer{Status: 202, Header: map[string][]string{"Location": {"/v1/analyses/1"}}, Body: []byte(`{"id":"1"}`)}

func idempotent(t *testing.T, s *store.Store) {
	ctx := context.Background()
	r := request("idempotent", "one")
	claim, before, err := s.BeginIdempotent(ctx, r, time.Minute)
	if err != nil || claim == nil || before != nil {
		t.Fatalf("the first request: %v, %v, %v", claim, before, err)
	}
	if _, _, err := s.BeginIdempotent(ctx, r, time.Minute); !errors.Is(err, store.ErrIdempotencyInFlight) {
		t.Errorf("the same request while it runs: %v", err)
	}
	if _, _, err := s.BeginIdempotent(ctx, request("idempotent", "two"), time.Minute); !errors.Is(err, store.ErrIdempotencyReused) {
		t.Errorf("another request while the first runs: %v", err)
	}
	if err := s.RenewIdempotent(ctx, claim, time.Minute); err != nil {
		t.Errorf("renew: %v", err)
	}
	stop := errors.New("stop")
	refuse(t, s, "an effect that is rolled back", stop, func(tx *store.Tx) error {
		if err := tx.FinishIdempotent(ctx, claim, answer); err != nil {
			return err
		}
		return stop
	})
	if _, _, err := s.BeginIdempotent(ctx, r, time.Minute); !errors.Is(err, store.ErrIdempotencyInFlight) {
		t.Errorf("after a rollback the request still runs: %v", err)
	}
	Write(t, s, func(ctx context.Context, tx *store.Tx) error { return tx.FinishIdempotent(ctx, claim, answer) })
	_, before, err = s.BeginIdempotent(ctx, r, time.Minute)
	if err != nil || before == nil || !reflect.DeepEqual(*before, answer) {
		t.Errorf("the same request is answered %+v, %v; want %+v", before, err, answer)
	}
	if _, _, err := s.BeginIdempotent(ctx, request("idempotent", "two"), time.Minute); !errors.Is(err, store.ErrIdempotencyReused) {
		t.Errorf("another request with the key: %v", err)
	}
	other := r
	other.Caller = "another caller"
	if claim, _, err := s.BeginIdempotent(ctx, other, time.Minute); err != nil || claim == nil {
		t.Errorf("the same key of another caller: %v", err)
	} else if err := s.ReleaseIdempotent(ctx, claim); err != nil {
		t.Errorf("release: %v", err)
	}
	if claim, _, err := s.BeginIdempotent(ctx, other, time.Minute); err != nil || claim == nil {
		t.Errorf("after its release the request can be claimed: %v", err)
	}
	// Eight days later the answer is forgotten.
	if _, err := s.DB().Exec("UPDATE idempotent_requests SET expires_at = expires_at - 8 * 86400000000 WHERE request_key = 'idempotent' AND caller = 'caller'"); err != nil {
		t.Fatal(err)
	}
	if claim, before, err := s.BeginIdempotent(ctx, r, time.Minute); err != nil || claim == nil || before != nil {
		t.Errorf("after 8 days: %v, %v, %v", claim, before, err)
	}
	if _, err := s.DB().Exec("UPDATE idempotent_requests SET expires_at = 1 WHERE request_key = 'idempotent'"); err != nil {
		t.Fatal(err)
	}
	if n, err := s.ForgetIdempotent(ctx); err != nil || n != 2 {
		t.Errorf("%d requests were forgotten, %v; want 2", n, err)
	}
}

// killedRequest checks that a claim ends with its lease, and that whoever lost it
// cannot commit an effect any more.
func killedRequest(t *testing.T, s *store.Store) {
	ctx := context.Background()
	r := request("killed", "one")
	killed, _, err := s.BeginIdempotent(ctx, r, -time.Second) // a lease that is over
	if err != nil {
		t.Fatal(err)
	}
	next, before, err := s.BeginIdempotent(ctx, r, time.Minute)
	if err != nil || next == nil || before != nil {
		t.Fatalf("after the lease: %v, %v, %v", next, before, err)
	}
	refuse(t, s, "finishing a lost claim", store.ErrIdempotencyLost, func(tx *store.Tx) error {
		return tx.FinishIdempotent(ctx, killed, answer)
	})
	if err := s.RenewIdempotent(ctx, killed, time.Minute); !errors.Is(err, store.ErrIdempotencyLost) {
		t.Errorf("renewing a lost claim: %v", err)
	}
	if err := s.ReleaseIdempotent(ctx, killed); err != nil {
		t.Errorf("releasing a lost claim: %v", err)
	}
	Write(t, s, func(ctx context.Context, tx *store.Tx) error { return tx.FinishIdempotent(ctx, next, answer) })
}

// oneEffect lets many send the same request at the same time, again and again until
// they have the answer: one effect, one answer for all.
func oneEffect(t *testing.T, s *store.Store) {
	season := Season(t, s, "one effect")
	errs := make([]error, racers)
	var all sync.WaitGroup
	for i := range racers {
		all.Go(func() { errs[i] = createEventOnce(s, season) })
	}
	all.Wait()
	if err := errors.Join(errs...); err != nil {
		t.Fatal(err)
	}
	list, err := s.Events(context.Background(), store.Everything, store.Filter{Seasons: []string{season.ID}}, many)
	if err != nil || len(list.Rows) != 1 {
		t.Errorf("%d effects, %v; want 1", len(list.Rows), err)
	}
}

func createEventOnce(s *store.Store, season store.Season) error {
	ctx := context.Background()
	for {
		claim, before, err := s.BeginIdempotent(ctx, request("one effect", "one"), time.Minute)
		switch {
		case errors.Is(err, store.ErrIdempotencyInFlight):
			continue
		case err != nil || before != nil:
			return err
		}
		return s.InTx(ctx, func(tx *store.Tx) error {
			if _, err := tx.CreateEvent(ctx, store.Everything, store.Event{SeasonID: season.ID, Name: "once"}); err != nil {
				return err
			}
			return tx.FinishIdempotent(ctx, claim, answer)
		})
	}
}
