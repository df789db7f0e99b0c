package page

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
)

// leftOut are the files a phone need not keep beforehand: the decoder is large
// and few browsers need it; the desk's pages need the book anyway.
var leftOut = []string{"jsqr/", "desk", "icon-"}

// worker serves the service worker, which keeps the round open without a
// signal. It must come from the top, to be allowed to answer for all pages; its
// first lines name this binary's assets, so that a new binary makes a new one.
func (s *Server) worker(w http.ResponseWriter, _ *http.Request) {
	body, err := embedded.ReadFile("assets/sw.js")
	if err != nil {
		http.Error(w, "no service worker", http.StatusNotFound)
		return
	}
	files := []string{}
next:
	for _, n := range s.assets.names {
		for _, p := range leftOut {
			if strings.HasPrefix(n, p) {
				continue next
			}
		}
		if n != "sw.js" {
			files = append(files, s.assets.url(n))
		}
	}
	list, _ := json.Marshal(files)
	h := w.Header()
	h.Set("Content-Type", kinds[".js"])
	h.Set("Cache-Control", "no-cache")
	fmt.Fprintf(w, "const version = %q;\nconst files = %s;\n%s", s.assets.version, list, body)
}
