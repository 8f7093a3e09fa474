package api

import (
	"maps"
	"net"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"sheetwash/api/problem"
)

// secured sets the headers that hold for every answer.
func (s *Server) secured(c *gin.Context) {
	maps.Copy(c.Writer.Header(), s.always)
	c.Next()
}

// always are the headers of every answer, in the form of net/http.
func always() http.Header {
	h := http.Header{}
	for name, value := range map[string]string{
		"X-Content-Type-Options": "nosniff", "X-Frame-Options": "DENY", "Referrer-Policy": "no-referrer",
		"Cross-Origin-Resource-Policy": "same-origin", "Cross-Origin-Opener-Policy": "same-origin",
		"Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'",
		"Vary":                    "Accept, Accept-Encoding, Authorization, Origin",
	} {
		h[http.CanonicalHeaderKey(name)] = []string{value}[:1:1] // who adds to it makes a copy
	}
	return h
}

// loopbackNames are the names of the loopback address in a Host header.
var loopbackNames = []string{"localhost", "127.0.0.1", "::1"}

// origins decides from which pages of browsers requests may come.
type origins struct {
	allowed []string
	hosts   []string // under which an open server is addressed; nil: any
	forgery *http.CrossOriginProtection
}

func newOrigins(a Access) (*origins, error) {
	o := &origins{forgery: http.NewCrossOriginProtection()}
	for _, origin := range a.Origins {
		u, err := url.Parse(origin)
		if err != nil || u.Scheme == "" || u.Host == "" || origin != u.Scheme+"://"+u.Host {
			return nil, problem.New(problem.MalformedRequest, "%q is no origin such as https://dashboard.example", origin)
		}
		if err := o.forgery.AddTrustedOrigin(origin); err != nil {
			return nil, err
		}
		o.allowed = append(o.allowed, origin)
	}
	if a.Open {
		o.hosts = append(slices.Clone(loopbackNames), a.Hosts...)
	}
	return o, nil
}

// guarded refuses addresses that are too long, names of hosts that are not ours
// (a page of another site may give its own name our address), and changes that a
// page of another origin asks for. It answers preflight requests.
func (s *Server) guarded(c *gin.Context) {
	r := c.Request
	switch err := s.guard(r); {
	case err != nil:
		s.fail(c, err)
	case r.Method == http.MethodOptions && r.Header.Get("Access-Control-Request-Method") != "":
		s.preflight(c)
	default:
		c.Next()
	}
}

func (s *Server) guard(r *http.Request) error {
	if n := len(r.RequestURI); n > s.limits.AddressBytes {
		return problem.New(problem.MalformedRequest, "the address has %d bytes; %d are allowed", n, s.limits.AddressBytes)
	}
	if s.origins.hosts != nil && !slices.Contains(s.origins.hosts, hostName(r.Host)) {
		return problem.New(problem.NotAllowed, "this server answers to %s and not to %q", strings.Join(s.origins.hosts, ", "), clip(hostName(r.Host)))
	}
	if s.access.Open || r.Header.Get("Authorization") == "" {
		if err := s.origins.forgery.Check(r); err != nil {
			return problem.Because(err, problem.NotAllowed, "a page of another origin may not change anything here")
		}
	}
	return nil
}

// hostName is a Host header without its port.
func hostName(host string) string {
	if name, _, err := net.SplitHostPort(host); err == nil {
		return strings.ToLower(name)
	}
	return strings.ToLower(strings.Trim(host, "[]"))
}

// address is where a request comes from: the IP address, of IPv6 the network of a
// subscriber.
func address(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	ip := net.ParseIP(host)
	if ip == nil || ip.To4() != nil {
		return host
	}
	return ip.Mask(net.CIDRMask(64, 128)).String() + "/64"
}
