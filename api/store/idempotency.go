package store

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"time"
)

// rememberedFor is how long an answer is kept.
const rememberedFor = 7 * 24 * time.Hour

// Answer is what a request was answered.
type Answer struct {
	Status int
	Header map[string][]string
	Body   []byte
}

// Request is a request that must not count twice: who sent it where, its key, and
// a digest of what it asks.
type Request struct {
	Caller, Route, Key string
	Hash               [32]byte
}

// Claim is the right to answer a request. It ends with its lease, so that a killed
// request frees its key.
type Claim struct {
	request Request
	token   string
}

// where adds the condition that a row is that of the request.
func (q *statement) where(r Request) {
	q.add(" WHERE caller = ? AND route = ? AND request_key = ?", r.Caller, r.Route, r.Key)
}

// later is an expression for the database's clock after some time.
func (r *Reader) later(d time.Duration) string {
	return fmt.Sprintf("%s + %d", r.dialect.now(), d.Microseconds())
}

// BeginIdempotent claims a request for the length of the lease. If it was answered
// within 7 days, the answer is returned instead. Errors: ErrIdempotencyInFlight,
// ErrIdempotencyReused.
func (s *Store) BeginIdempotent(ctx context.Context, r Request, lease time.Duration) (*Claim, *Answer, error) {
	var claim *Claim
	var answer *Answer
	err := s.InTx(ctx, func(t *Tx) (err error) {
		claim, answer, err = t.begin(ctx, r, lease)
		return err
	})
	return claim, answer, err
}

// begin claims a request: one without a row, or whose claim has run out.
func (t *Tx) begin(ctx context.Context, r Request, lease time.Duration) (*Claim, *Answer, error) {
	q := statement{}
	q.add("DELETE FROM idempotent_requests")
	q.where(r)
	q.add(" AND expires_at <= " + t.dialect.now())
	if _, err := t.exec(ctx, q); err != nil {
		return nil, nil, fmt.Errorf("forget an old request: %w", err)
	}
	claim := &Claim{r, NewID()}
	q = statement{}
	q.add("INSERT INTO idempotent_requests (caller, route, request_key, request_hash, token, lease_until, expires_at) VALUES (?, ?, ?, ?, ?, "+
		t.later(lease)+", "+t.later(rememberedFor)+") ON CONFLICT (caller, route, request_key) DO UPDATE "+
		"SET request_hash = excluded.request_hash, token = excluded.token, lease_until = excluded.lease_until "+
		"WHERE idempotent_requests.status IS NULL AND idempotent_requests.lease_until <= "+t.dialect.now(),
		r.Caller, r.Route, r.Key, r.Hash[:], claim.token)
	n, err := t.exec(ctx, q)
	if err != nil {
		return nil, nil, fmt.Errorf("claim the request: %w", err)
	}
	if n > 0 {
		return claim, nil, nil
	}
	answer, err := t.answered(ctx, r)
	return nil, answer, err
}

// answered is the answer to a request that is claimed or answered already.
func (t *Tx) answered(ctx context.Context, r Request) (*Answer, error) {
	type kept struct {
		hash   []byte
		status *int
		header *string
		body   []byte
	}
	q := statement{}
	q.add("SELECT request_hash, status, header, body FROM idempotent_requests")
	q.where(r)
	k, err := one(ctx, &t.Reader, q, func(scan scanner) (k kept, err error) { return k, scan(&k.hash, &k.status, &k.header, &k.body) })
	switch {
	case err != nil:
		return nil, fmt.Errorf("read what the request was answered: %w", err)
	case !bytes.Equal(k.hash, r.Hash[:]):
		return nil, ErrIdempotencyReused
	case k.status == nil:
		return nil, ErrIdempotencyInFlight
	}
	a := &Answer{Status: *k.status, Body: k.body}
	if k.header != nil {
		err = json.Unmarshal([]byte(*k.header), &a.Header)
	}
	return a, err
}

// RenewIdempotent starts the lease anew, for a long upload. ErrIdempotencyLost if
// it ended and another took over.
func (s *Store) RenewIdempotent(ctx context.Context, c *Claim, lease time.Duration) error {
	return s.InTx(ctx, func(t *Tx) error {
		q := statement{}
		q.add("UPDATE idempotent_requests SET lease_until = " + t.later(lease))
		return t.settle(ctx, q, c)
	})
}

// FinishIdempotent keeps the answer in the transaction of the effect. If the claim
// was lost, ErrIdempotencyLost: roll back.
func (t *Tx) FinishIdempotent(ctx context.Context, c *Claim, a Answer) error {
	header, err := json.Marshal(a.Header)
	if err != nil {
		return fmt.Errorf("write down the header: %w", err)
	}
	q := statement{}
	q.add("UPDATE idempotent_requests SET status = ?, header = ?, body = ?, expires_at = "+t.later(rememberedFor), a.Status, string(header), a.Body)
	return t.settle(ctx, q, c)
}

// ReleaseIdempotent gives up a claim after a request without effect. One that is
// lost or answered stays as it is.
func (s *Store) ReleaseIdempotent(ctx context.Context, c *Claim) error {
	return s.InTx(ctx, func(t *Tx) error {
		q := statement{}
		q.add("DELETE FROM idempotent_requests")
		q.where(c.request)
		q.add(" AND token = ? AND status IS NULL", c.token)
		_, err := t.exec(ctx, q)
		return err
	})
}

// settle runs an update of a claimed request.
func (t *Tx) settle(ctx context.Context, q statement, c *Claim) error {
	update := statement{args: q.args}
	update.add(q.text.String())
	update.where(c.request)
	update.add(" AND token = ? AND status IS NULL", c.token)
	n, err := t.exec(ctx, update)
	if err == nil && n == 0 {
		err = ErrIdempotencyLost
	}
	return err
}

// ForgetIdempotent deletes answers that are older than 7 days and returns how
// many.
func (s *Store) ForgetIdempotent(ctx context.Context) (int64, error) {
	var n int64
	err := s.InTx(ctx, func(t *Tx) (err error) {
		q := statement{}
		q.add("DELETE FROM idempotent_requests WHERE expires_at <= " + t.dialect.now())
		n, err = t.exec(ctx, q)
		return err
	})
	return n, err
}
