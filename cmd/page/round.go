package page

import "net/http"

// task is a line of the day's list, as today --json has it.
type task struct {
	Job      string   `json:"job"`
	Wheels   []string `json:"wheels"`
	Lot      string   `json:"lot"`
	Place    string   `json:"place"`
	Due      string   `json:"due"`
	LateDays int      `json:"late_days"`
	Round    int      `json:"round"`
	Rounds   int      `json:"rounds"`
	Minutes  *float64 `json:"minutes"`
	Why      string   `json:"why"`
	Coat     string   `json:"coat"`
	To       string   `json:"to"`
	Note     string   `json:"note"`
}

type today struct {
	Date   string `json:"date"`
	Tasks  []task `json:"tasks"`
	Totals struct {
		Wheels  int      `json:"wheels"`
		Tasks   int      `json:"tasks"`
		Minutes *float64 `json:"minutes"`
	} `json:"totals"`
}

func (s *Server) roundRoutes(m *http.ServeMux) {
	m.HandleFunc("GET /{$}", s.round)
}

// round is the day's round.
func (s *Server) round(w http.ResponseWriter, r *http.Request) {
	var d today
	if !s.ask(w, r, &d, "today") {
		return
	}
	s.show(w, r, http.StatusOK, "round.html", View{Title: "The round", Here: "round", Body: d})
}
