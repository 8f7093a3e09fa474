package api

import (
	"bytes"
	"context"
	"net"
	"net/http"
	"time"
)

// connection is a connection that sends the head of an answer together with its
// body, in one call of the system instead of two, and that moves its deadline only
// when it has to. Lines of the head that were made before go in after the first, past
// the sorting and checking of net/http. It is used by one request at a time, as
// net/http does.
type connection struct {
	*net.TCPConn
	held    []byte
	lines   []byte // of the head, that net/http does not know of
	holding bool
	until   time.Time // of writes
}

// gathered is the size of a body from which its first bytes and the rest are
// written one after the other by net/http.
const gathered = 4096

// gather puts lines into the head of the answer that is written next. With hold, its
// head waits for more to be written.
func (c *connection) gather(lines []byte, hold bool) { c.lines, c.holding = lines, hold }

// release sends what is held.
func (c *connection) release() {
	if c.holding = false; len(c.held) > 0 {
		_, _ = c.send(nil) // the connection remembers its error, and the next write meets it
	}
}

// Write sends p after what is held. Errors: those of the connection.
func (c *connection) Write(p []byte) (int, error) {
	switch {
	case c.holding && len(c.held) == 0:
		c.held = append(c.held, p...)
		return len(p), nil
	case len(c.held) == 0 && c.lines == nil:
		return c.TCPConn.Write(p)
	}
	return c.send(p)
}

// send sends what is held and p, with the lines after the first.
func (c *connection) send(p []byte) (int, error) {
	head, rest := c.held, p
	if len(head) == 0 {
		head, rest = p, nil
	}
	first := bytes.IndexByte(head, '\n') + 1
	all := net.Buffers{head[:first], c.lines, head[first:], rest}
	before := int64(len(c.held) + len(c.lines))
	n, err := all.WriteTo(c.TCPConn)
	c.held, c.lines, c.holding = c.held[:0], nil, false
	return int(max(0, n-before)), err
}

// boundWrites sets the time in which what follows must be taken, to between one and
// two times the given.
func (c *connection) boundWrites(within time.Duration) {
	if now := time.Now(); c.until.Before(now.Add(within)) {
		_ = c.SetWriteDeadline(now.Add(2 * within)) // where it fails, the write fails too
	}
}

// SetWriteDeadline sets the end of writes. Errors: those of the connection.
func (c *connection) SetWriteDeadline(t time.Time) error {
	c.until = t
	return c.TCPConn.SetWriteDeadline(t)
}

// SetDeadline sets the end of reads and writes. Errors: those of the connection.
func (c *connection) SetDeadline(t time.Time) error {
	c.until = t
	return c.TCPConn.SetDeadline(t)
}

// connectionKey is the name of the connection in the context of its requests.
type connectionKey struct{}

// connections makes the connections of a listener.
type connections struct{ net.Listener }

// Accept waits for a connection. Errors: those of the listener.
func (l connections) Accept() (net.Conn, error) {
	c, err := l.Listener.Accept()
	if tcp, ok := c.(*net.TCPConn); ok && err == nil {
		return &connection{TCPConn: tcp}, nil
	}
	return c, err
}

// inContext puts a connection into the context of its requests.
func inContext(ctx context.Context, c net.Conn) context.Context {
	return context.WithValue(ctx, connectionKey{}, c)
}

var _ http.Handler = (*Server)(nil)
