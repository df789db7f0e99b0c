package page

import "net/http"

// deskRoutes are the pages to read and write at a desk: wheels, lots, rooms, the
// days ahead, the trace, a new make.
func (s *Server) deskRoutes(m *http.ServeMux) {}
