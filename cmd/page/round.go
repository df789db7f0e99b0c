package page

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/app/rooms"
	"rindkeep/cmd/app/round"
	"rindkeep/cmd/page/live"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/wheel"
)

// roundBody is the day's list as the page shows it.
type roundBody struct {
	Date     string
	At       int64 // when the list was asked for, Unix ms: a phone may show an old one
	Sum      string
	Late     int // lines
	Lines    int
	Cautions app.Cautions
	Alarms   []rooms.Alarm
	Rooms    []roomCards
	Jobs     []string // that there are on the list, in the order of a round
	Room     string   // the one asked for, "" for all
	Job      string

	List     string // the query of the list's address
	Have     string // names the state of it
	Tiles    []tile // instead of the cards, where these are too many
	Chosen   string // what the list is of; "": everything
	Others   []link
	Before   string // pages of the same
	After    string
	MayShare bool
}

type roomCards struct {
	Name    string // "" where no place is given
	Shelves []shelfCards
}

type shelfCards struct {
	Place string
	Name  string // within the room, as on paper
	Cards []card

	HTML template.HTML // of all of it, where it was made before
	Same bool          // the page that asks has it
}

// card is one line of the list.
type card struct {
	round.Line
	Key   string // names the line from one list to the next
	Kind  string // how it is recorded: did, weigh, check, coat, move
	Past  string // the job once done
	List  string // its wheels as a JSON list, for the script
	Doing string
	Who   string
	Why   string

	// Cautions are those of the job, on its first card in a room: but for wax's, which
	// is on the form that a coat is recorded by.
	Cautions []string
}

// recorded are the jobs that are recorded by a form of their own.
var recorded = map[wheel.Job]string{wheel.Weigh: "weigh", wheel.Check: "check", wheel.Coat: "coat", wheel.Move: "move"}

func (s *Server) roundRoutes(m *http.ServeMux) {
	m.HandleFunc("GET /{$}", s.roundPage)
	m.HandleFunc("GET /sw.js", s.worker)
	m.HandleFunc("POST /phone", s.announced)
	m.HandleFunc("GET /before", s.before)
	m.HandleFunc("GET /who", s.page(whoPage))
}

// before is what the pad shows of wheels before a weight is typed. It's no part of the
// API.
func (s *Server) before(w http.ResponseWriter, r *http.Request) {
	c := s.callOf(r)
	doc, err := inTurn(c, func(c *call) (any, error) {
		tags := strings.Split(r.URL.Query().Get("tags"), ",")
		doc, err := drying.BeforeWeighing(c.ctx, c.app, c.caller, tags)
		return filled(doc, err, c.words().FillBefore)
	})
	s.answer(w, r, doc, err)
}

func showToday(c *call) (any, error) {
	q, err := askedFor(c.q)
	if err != nil {
		return nil, err
	}
	t, err := round.ListDay(c.ctx, c.app, c.caller, q)
	return filled(t, err, c.words().FillToday)
}

// roundPage is the day's round, or the part of it that this phone shows. A page that has
// it says as of when, in X-Round, and gets what changed since.
func (s *Server) roundPage(w http.ResponseWriter, r *http.Request) {
	c := s.callOf(r)
	list, chosen := listOf(r)
	ask := func() (shown live.Shown, err error) {
		units := s.likelyUnits(r)
		for range 2 { // again if the book's people read other units since
			shown, err = inTurn(c, func(c *call) (live.Shown, error) { return s.board(c.ctx, units, list) })
			if now := s.likelyUnits(r); err != nil || now == units {
				break
			} else {
				units = now
			}
		}
		return shown, err
	}
	shown, err := ask()
	if err != nil && chosen { // a room that's gone since: choose another
		list = url.Values{}
		shown, err = ask()
	}
	if err != nil {
		s.refuse(w, r, err)
		return
	}
	b := bodyFrom(shown, r.Header.Get("X-Round"))
	b.Tiles = slices.Clone(b.Tiles)
	s.openHere(b.Tiles)
	v := View{Template: "round.html", Title: "The round", Here: "round", Body: &b}
	if r.Header.Get("X-Round") != "" {
		v.Part = "changes"
	}
	s.show(w, r, http.StatusOK, v.Template, v)
}

// bodyOf lays the day's list out by room and shelf.
func bodyOf(t round.Today, p words.Printer) roundBody {
	p.Zone = t.Zone
	keys := map[string]bool{}
	b := roundBody{Date: t.Date, Sum: p.DaySum(t), Lines: len(t.List.Lines), Cautions: t.Cautions, Alarms: t.Alarms}
	for _, r := range t.List.ByRoom() {
		room := roomCards{Name: r.Room}
		told := map[wheel.Job][]app.Hazard{}
		for _, sh := range r.Shelves {
			shelf := shelfCards{Place: string(sh.Place), Name: words.ShelfName(sh.Place)}
			for _, n := range sh.Lines {
				if n.LateDays > 0 {
					b.Late++
				}
				if j := string(n.Job); !slices.Contains(b.Jobs, j) {
					b.Jobs = append(b.Jobs, j)
				}
				c := cardOf(n, p)
				for keys[c.Key] { // two lines alike in all but what the list does not say
					c.Key += "x"
				}
				keys[c.Key] = true
				for _, h := range n.Hazards {
					if h != app.HotWax && !slices.Contains(told[n.Job], h) {
						c.Cautions = append(c.Cautions, p.CautionOf(h))
						told[n.Job] = append(told[n.Job], h)
					}
				}
				shelf.Cards = append(shelf.Cards, c)
			}
			room.Shelves = append(room.Shelves, shelf)
		}
		b.Rooms = append(b.Rooms, room)
	}
	slices.SortFunc(b.Jobs, func(x, y string) int { return wheel.Job(x).Order() - wheel.Job(y).Order() })
	return b
}

func cardOf(n round.Line, p words.Printer) card {
	list, _ := json.Marshal(n.Tags)
	kind := recorded[n.Job]
	if kind == "" {
		kind = "did"
	}
	return card{
		Line: n, Key: keyOf(n), Kind: kind, Past: n.Job.Done(), List: string(list),
		Doing: words.Doing(n), Who: words.LineWheels(n), Why: p.Why(n.Why),
	}
}

// keyOf names a line by all that its wheels share, so that it keeps its name
// when some of them are done.
func keyOf(n round.Line) string {
	h := sha256.Sum256(fmt.Appendf(nil, "%s\x00%s\x00%s\x00%d\x00%d\x00%s\x00%s\x00%s\x00%s",
		n.Place, n.Job, n.Due, n.Round, n.Left, n.Coat, n.To, n.Note, strings.Join(n.Clocks(), " ")))
	return hex.EncodeToString(h[:6])
}

// Boxes is a box for every round left today.
func (c card) Boxes() []struct{} { return make([]struct{}, max(1, c.Left)) }

// Late says how late the line is: "LATE 8 days".
func (c card) Late() string { return "LATE " + text.Count(c.LateDays, "day") }

// Times says when it is to be done today, or how often, where it comes more
// than once a day.
func (c card) Times() string {
	switch {
	case len(c.Line.Times) > 0:
		return words.LineTimes(c.Line)
	case c.Rounds <= 1:
		return ""
	case c.Left == 1 && c.Round > 1:
		return "the last round of today"
	}
	return text.Count(c.Left, "round") + " left today"
}

// Lasting is how long it takes: "3 min".
func (c card) Lasting() string { return lasting(&c.Minutes) }

func lasting(minutes *float64) string {
	if minutes == nil || *minutes <= 0 {
		return ""
	}
	return text.Duration(*minutes)
}
