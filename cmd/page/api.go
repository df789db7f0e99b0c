package page

import "net/http"

// apiRoutes are the documents of the commands, and what may be written.
func (s *Server) apiRoutes(m *http.ServeMux) {}
