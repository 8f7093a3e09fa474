package api

import "net/http"

// SendReady answers a request from memory, or reports that it cannot.
func (s *Server) SendReady(w http.ResponseWriter, r *http.Request) bool {
	a, ok := s.pages.asked(askFor(nil, r))
	return ok && s.sendReady(w, r, a)
}
