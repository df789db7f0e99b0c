package daylist

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"html/template"
	"slices"
	"strings"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/rooms"
	"rindkeep/cmd/app/round"
	"rindkeep/cmd/page/format"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/wheel"
)

// Body is the day's list as the page shows it.
type Body struct {
	Date     string
	At       int64 // when the list was asked for, Unix ms: a phone may show an old one
	Sum      string
	Late     int // lines
	Lines    int
	Cautions app.Cautions
	Alarms   []rooms.Alarm
	Rooms    []Room
	Jobs     []string // that there are on the list, in the order of a round
	Room     string   // the one asked for, "" for all
	Job      string

	List     string // the query of the list's address
	Have     string // names the state of it
	Tiles    []Tile // instead of the cards, where these are too many
	Chosen   string // what the list is of; "": everything
	Others   []Link
	Before   string // pages of the same
	After    string
	MayShare bool
}

// Room is the cards of one room.
type Room struct {
	Name    string // "" where no place is given
	Shelves []Shelf
}

// Shelf is the cards of one shelf.
type Shelf struct {
	Place string
	Name  string // within the room, as on paper
	Cards []Card

	HTML template.HTML // of all of it, where it was made before
	Same bool          // the page that asks has it
}

// Card is one line of the list.
type Card struct {
	round.Line
	Key   string // names the line from one list to the next
	Kind  string // of form: did, weigh, check, coat, move
	Past  string // the job once done
	List  string // its wheels as a JSON list, for the script
	Doing string
	Who   string
	Why   string

	// Cautions are those of the job, on its first card in a room: but for wax's, which
	// is on the form that a coat is recorded by.
	Cautions []string
}

// Forms are the forms of the jobs that have their own; others take one tap.
var Forms = map[wheel.Job]string{wheel.Weigh: "weigh", wheel.Check: "check", wheel.Coat: "coat", wheel.Move: "move"}

// Cards lays the day's list out by room and shelf.
func Cards(t round.Today, p words.Printer) Body {
	p.Zone = t.Zone
	keys := map[string]bool{}
	b := Body{Date: t.Date, Sum: p.DaySum(t), Lines: len(t.List.Lines), Late: lateOf(t.List.Lines),
		Cautions: t.Cautions, Alarms: t.Alarms}
	for _, r := range t.List.ByRoom() {
		room := Room{Name: r.Room}
		told := map[wheel.Job][]app.Hazard{}
		for _, sh := range r.Shelves {
			shelf := Shelf{Place: string(sh.Place), Name: words.ShelfName(sh.Place)}
			for _, n := range sh.Lines {
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

func cardOf(n round.Line, p words.Printer) Card {
	list, _ := json.Marshal(n.Tags)
	kind := Forms[n.Job]
	if kind == "" {
		kind = "did"
	}
	return Card{
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
func (c Card) Boxes() []struct{} { return make([]struct{}, max(1, c.Left)) }

// Late says how late the line is: "LATE 8 days".
func (c Card) Late() string { return "LATE " + text.Count(c.LateDays, "day") }

// Times says when it is to be done today, or how often, where it comes more
// than once a day.
func (c Card) Times() string {
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
func (c Card) Lasting() string { return format.Lasting(&c.Minutes) }
