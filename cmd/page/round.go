package page

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"rindkeep/cmd/text"
	"rindkeep/wheel"
)

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
	Left     int      `json:"rounds_left"`
	Whole    bool     `json:"whole_shelf"`
	Minutes  *float64 `json:"minutes"`
	Why      string   `json:"why"`
	At       []string `json:"times"` // of day, of the rounds left of a timed job
	Coat     string   `json:"coat"`
	To       string   `json:"to"`
	Note     string   `json:"note"`
}

type today struct {
	Date   string  `json:"date"`
	Alarms []alarm `json:"alarms"`
	Tasks  []task  `json:"tasks"`
	Totals struct {
		Wheels  int      `json:"wheels"`
		Tasks   int      `json:"tasks"`
		Minutes *float64 `json:"minutes"`
	} `json:"totals"`
}

// alarm is a room whose air is wrong, or not being read.
type alarm struct {
	Room string `json:"room"`
	What string `json:"what"`
	Read string `json:"last_read"`
}

// roundBody is the day's list as the page shows it.
type roundBody struct {
	Date    string
	At      int64 // when the list was asked for, Unix ms: a phone may show an old one
	Wheels  int
	Lines   int
	Late    int // lines
	Minutes *float64
	Alarms  []alarm
	Rooms   []roomCards
	Jobs    []string // that there are on the list, in the order of a round
	Room    string   // the one asked for, "" for all
	Job     string
}

type roomCards struct {
	Name    string // "" where no place is given
	Shelves []shelfCards
}

type shelfCards struct {
	Place string
	Name  string // within the room, as on paper
	Cards []card
}

// card is one line of the list.
type card struct {
	task
	Key  string // names the line from one list to the next
	Kind string // how it is recorded: did, weigh, check, coat, move
	Past string // the job once done
	Tags string // its wheels rolled up
	List string // its wheels as a JSON list, for the script
}

// recorded are the jobs that are recorded by a form of their own.
var recorded = map[string]string{"weigh": "weigh", "check": "check", "coat": "coat", "move": "move"}

func (s *Server) roundRoutes(m *http.ServeMux) {
	m.HandleFunc("GET /{$}", s.round)
	m.HandleFunc("GET /sw.js", s.worker)
}

// round is the day's round. ?room= and ?job= narrow it also where no script
// runs.
func (s *Server) round(w http.ResponseWriter, r *http.Request) {
	at := s.opt.Now().UnixMilli()
	args := []string{"today", "--together"}
	room, job := r.URL.Query().Get("room"), r.URL.Query().Get("job")
	if room != "" {
		args = append(args, "--room="+room)
	}
	if job != "" {
		args = append(args, "--only="+job)
	}
	var d today
	if !s.ask(w, r, &d, args...) {
		return
	}
	b := bodyOf(d)
	b.At, b.Room, b.Job = at, room, job
	s.show(w, r, http.StatusOK, "round.html", View{Title: "The round", Here: "round", Body: b})
}

// bodyOf lays the day's list out by room and shelf. It comes in walking order
// already.
func bodyOf(d today) roundBody {
	keys := map[string]bool{}
	b := roundBody{Date: d.Date, Wheels: d.Totals.Wheels, Lines: d.Totals.Tasks, Minutes: d.Totals.Minutes, Alarms: d.Alarms}
	for _, t := range d.Tasks {
		if t.LateDays > 0 {
			b.Late++
		}
		if !slices.Contains(b.Jobs, t.Job) {
			b.Jobs = append(b.Jobs, t.Job)
		}
		room, within, _ := strings.Cut(t.Place, "/")
		if len(b.Rooms) == 0 || b.Rooms[len(b.Rooms)-1].Name != room {
			b.Rooms = append(b.Rooms, roomCards{Name: room})
		}
		rm := &b.Rooms[len(b.Rooms)-1]
		if n := len(rm.Shelves); n == 0 || rm.Shelves[n-1].Place != t.Place {
			rm.Shelves = append(rm.Shelves, shelfCards{Place: t.Place, Name: shelfName(within)})
		}
		sh := &rm.Shelves[len(rm.Shelves)-1]
		c := cardOf(t)
		for keys[c.Key] { // two lines alike in all but what the list does not say
			c.Key += "x"
		}
		keys[c.Key] = true
		sh.Cards = append(sh.Cards, c)
	}
	slices.SortFunc(b.Jobs, func(x, y string) int { return wheel.Job(x).Order() - wheel.Job(y).Order() })
	return b
}

func cardOf(t task) card {
	list, _ := json.Marshal(t.Wheels)
	kind := recorded[t.Job]
	if kind == "" {
		kind = "did"
	}
	return card{task: t, Key: keyOf(t), Kind: kind, Past: wheel.Job(t.Job).Done(), Tags: text.Tags(t.Wheels), List: string(list)}
}

// keyOf names a line by all that its wheels share, so that it keeps its name
// when some of them are done.
func keyOf(t task) string {
	h := sha256.Sum256(fmt.Appendf(nil, "%s\x00%s\x00%s\x00%d\x00%d\x00%s\x00%s\x00%s\x00%s", t.Place, t.Job, t.Due, t.Round, t.Left, t.Coat, t.To, t.Note, strings.Join(t.At, " ")))
	return hex.EncodeToString(h[:6])
}

func shelfName(within string) string {
	rack, shelf, ok := strings.Cut(within, "/")
	switch {
	case within == "":
		return ""
	case !ok:
		return "rack " + rack
	}
	return "rack " + rack + ", shelf " + shelf
}

// Doing is the job with what it needs: "coat wax", "move to cellar/B/1".
func (c card) Doing() string {
	switch {
	case c.Coat != "":
		return c.Job + " " + c.Coat
	case c.To != "":
		return c.Job + " to " + c.To
	}
	return c.Job
}

// Who is the line's wheels, as on paper.
func (c card) Who() string {
	switch {
	case c.Whole:
		return fmt.Sprintf("all %d: %s", len(c.Wheels), c.Tags)
	case len(c.Wheels) > 3:
		return fmt.Sprintf("%d: %s", len(c.Wheels), c.Tags)
	}
	return c.Tags
}

// Boxes is a box for every round left today.
func (c card) Boxes() []struct{} { return make([]struct{}, max(1, c.Left)) }

// Late says how late the line is: "LATE 8 days".
func (c card) Late() string { return "LATE " + text.Count(c.LateDays, "day") }

// Times says when it is to be done today, or how often, where it comes more
// than once a day.
func (c card) Times() string {
	switch {
	case len(c.At) > 0:
		return "at " + strings.Join(c.At, ", ")
	case c.Rounds <= 1:
		return ""
	case c.Left == 1 && c.Round > 1:
		return "the last round of today"
	}
	return text.Count(c.Left, "round") + " left today"
}

// Lasting is how long it takes: "3 min".
func (c card) Lasting() string { return lasting(c.Minutes) }

// Sum is the day in a line, as on paper.
func (b roundBody) Sum() string {
	if b.Lines == 0 {
		return "nothing to do"
	}
	s := text.Count(b.Wheels, "wheel") + " to handle, " + text.Count(b.Lines, "job")
	if l := lasting(b.Minutes); l != "" {
		s += ", about " + l
	}
	return s
}

func lasting(minutes *float64) string {
	if minutes == nil || *minutes <= 0 {
		return ""
	}
	return text.Duration(*minutes)
}

// Waxes says whether wax is to be melted today.
func (b roundBody) Waxes() bool {
	for _, r := range b.Rooms {
		for _, s := range r.Shelves {
			for _, c := range s.Cards {
				if c.Job == string(wheel.Coat) && c.Coat == "wax" {
					return true
				}
			}
		}
	}
	return false
}
