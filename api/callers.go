package api

import (
	"sync"
	"time"

	"golang.org/x/time/rate"

	"sheetwash/api/problem"
	"sheetwash/api/store"
)

// caller is who sent a request, and what they may.
type caller struct {
	id      string // of the key; "operator" of an open server; "anonymous"
	bucket  string // under which requests are counted
	role    right
	scope   store.Scope
	origins []string
}

// may reports whether the caller has a right.
func (c *caller) may(r right) bool { return r != nobody && (r == anyone || c.role >= r) }

// signed is the id that records carry: empty unless there is a key.
func (c *caller) signed() string {
	if c.id == operator || c.id == anonymous {
		return ""
	}
	return c.id
}

// Callers without a key.
const (
	operator  = "operator"
	anonymous = "anonymous"
)

// theOperator is who uses an open server.
var theOperator = &caller{id: operator, bucket: operator, role: manages, scope: store.Everything}

// remembered is how long what the store said of a key, or of the keys' origins,
// is believed. A revoked key ends within it.
const remembered = 2 * time.Second

// most bounds each memory of callers; the oldest halves go when it is full.
const most = 10_000

// callers remembers who is who, and how fast each asks.
type callers struct {
	limits Limits
	now    func() time.Time

	mu       sync.Mutex
	keys     map[store.SecretHash]remember[*caller]
	buckets  map[string]*bucket
	failures map[string]*rate.Limiter
	origins  memory[map[string]bool] // that keys name
	keyed    memory[bool]            // there is a key
}

type remember[T any] struct {
	value T
	until time.Time
}

// bucket is what a caller has used.
type bucket struct {
	reads, writes    *rate.Limiter
	uploads, streams int
	used             time.Time
}

func newCallers(l Limits, now func() time.Time) *callers {
	return &callers{
		limits: l, now: now, keys: map[store.SecretHash]remember[*caller]{},
		buckets: map[string]*bucket{}, failures: map[string]*rate.Limiter{}, origins: memory[map[string]bool]{now: now}, keyed: memory[bool]{now: now},
	}
}

// key returns the caller of a secret as it is remembered.
func (c *callers) key(h store.SecretHash) (*caller, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	k, ok := c.keys[h]
	return k.value, ok && c.now().Before(k.until)
}

func (c *callers) remember(h store.SecretHash, who *caller, expires *time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if len(c.keys) >= most {
		clear(c.keys)
	}
	until := c.now().Add(remembered)
	if expires != nil && expires.Before(until) {
		until = *expires
	}
	c.keys[h] = remember[*caller]{who, until}
}

// forget drops what is remembered of keys, when one of them was revoked here.
func (c *callers) forget() {
	c.mu.Lock()
	defer c.mu.Unlock()
	clear(c.keys)
	c.origins.forget()
	c.keyed.forget()
}

// blocked reports whether too many sign-ins from an address failed.
func (c *callers) blocked(address string) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	l, ok := c.failures[address]
	return ok && l.TokensAt(c.now()) < 1
}

// anyFailed reports whether any sign-in failed, so that addresses must be looked at.
func (c *callers) anyFailed() bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return len(c.failures) > 0
}

// failed counts a sign-in that failed.
func (c *callers) failed(address string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	l, ok := c.failures[address]
	if !ok {
		if len(c.failures) >= most {
			clear(c.failures)
		}
		l = rate.NewLimiter(rate.Every(time.Minute/time.Duration(max(1, c.limits.SignInFailures))), max(1, c.limits.SignInFailures))
		c.failures[address] = l
	}
	l.AllowN(c.now(), 1)
}

// bucketOf returns what a caller has used; the caller holds mu.
func (c *callers) bucketOf(who *caller) *bucket {
	b, ok := c.buckets[who.bucket]
	if !ok {
		c.sweep()
		l := c.limits
		b = &bucket{reads: limiter(l.ReadsPerSecond, l.ReadBurst), writes: limiter(l.WritesPerSecond, l.WriteBurst)}
		if who.id == anonymous {
			b.reads = limiter(l.AnonymousPerSecond, l.AnonymousBurst)
			b.writes = b.reads
		}
		c.buckets[who.bucket] = b
	}
	b.used = c.now()
	return b
}

func limiter(perSecond float64, burst int) *rate.Limiter {
	if perSecond <= 0 {
		return rate.NewLimiter(rate.Inf, 0)
	}
	return rate.NewLimiter(rate.Limit(perSecond), max(1, burst))
}

// sweep drops buckets that are full again.
func (c *callers) sweep() {
	if len(c.buckets) < most {
		return
	}
	for name, b := range c.buckets {
		if b.uploads == 0 && b.streams == 0 && c.now().Sub(b.used) > time.Minute {
			delete(c.buckets, name)
		}
	}
}

// allow takes a request from the caller's rate.
func (c *callers) allow(who *caller, writes bool) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	b := c.bucketOf(who)
	l := b.reads
	if writes {
		l = b.writes
	}
	if l.AllowN(c.now(), 1) {
		return nil
	}
	e := problem.New(problem.RateLimited, "requests come faster than %g a second", float64(l.Limit()))
	e.RetryAfter = max(time.Second, time.Duration(float64(time.Second)/float64(l.Limit())))
	return e
}

// enter takes one of the places that a caller has at once, and returns how to
// leave it.
func (c *callers) enter(who *caller, what string, place func(*bucket) *int, limit int) (leave func(), err error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	n := place(c.bucketOf(who))
	if limit > 0 && *n >= limit {
		return nil, problem.New(problem.QuotaReached, "there are %d %s of this caller; %d are allowed at once", *n, what, limit)
	}
	*n++
	return func() {
		c.mu.Lock()
		defer c.mu.Unlock()
		*n--
	}, nil
}

// memory remembers what the store said for a moment.
type memory[T any] struct {
	mu    sync.Mutex
	now   func() time.Time
	value T
	until time.Time
}

func (m *memory[T]) get(load func() (T, error)) (T, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.now().Before(m.until) {
		return m.value, nil
	}
	v, err := load()
	if err == nil {
		m.value, m.until = v, m.now().Add(remembered)
	}
	return v, err
}

// peek returns the value as it is remembered.
func (m *memory[T]) peek() (value T, known bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.value, m.now().Before(m.until)
}

func (m *memory[T]) forget() {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.until = time.Time{}
}
