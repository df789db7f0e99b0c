package cli

import (
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"rindkeep/cave"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app/rooms"
	"rindkeep/cmd/app/round"
	roundcmd "rindkeep/cmd/cli/round"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/store"
	"rindkeep/wheel"
)

func (a *app) todayCmd() *cobra.Command {
	var only, room string
	var together bool
	c := a.cmd("today", "The day's list, in walking order", `
rindkeep today
rindkeep today --only turn                 the turning list
rindkeep today --room cellar --on tomorrow
rindkeep today | lp                        on paper, with boxes to tick`, none, func(cmd *cobra.Command, _ []string) error {
		return a.view(func(s *session) error { return s.dayPrint(only, room, s.json && !together) })
	})
	c.Flags().StringVar(&only, "only", "", "only these `JOB,..`")
	c.Flags().StringVar(&room, "room", "", "only this `ROOM`")
	c.Flags().BoolVar(&together, "together", false, "with --json: wheels of several lots in one line, as on paper")
	a.completes(c, "only", func(*session) []string { return roundcmd.JobNames() })
	a.completes(c, "room", (*session).roomNames)
	return c
}

// dayList is the list of the day asked for, in one layout for programs and
// one for people.
func (s *session) dayList(only, room string, byLot bool) (round.List, error) {
	o := round.Options{ByLot: byLot, Room: room, Zone: s.loc}
	for _, w := range strings.Split(only, ",") {
		if strings.TrimSpace(w) == "" {
			continue
		}
		j, err := wheel.ParseJob(w)
		if err != nil {
			return round.List{}, at("--only", usageError{Msg: err.Error()})
		}
		o.Only = append(o.Only, j)
	}
	if room != "" {
		r, err := s.tx.Room(room)
		if err != nil {
			return round.List{}, err
		}
		o.Room = r.Name
	}
	_, date, err := s.asOf()
	if err != nil {
		return round.List{}, err
	}
	rooms, err := s.tx.Rooms()
	if err != nil {
		return round.List{}, err
	}
	counts, err := s.tx.ShelfCounts("")
	if err != nil {
		return round.List{}, err
	}
	shelves := make(map[cave.Place]int, len(counts))
	for _, c := range counts {
		shelves[c.Place] = c.Wheels
	}
	return round.Make(date, func(fn func(store.Task) bool) error { return s.tx.EachDue(date, fn) }, rooms, shelves, o)
}

type taskDoc struct {
	Job      string      `json:"job"`
	Wheels   []string    `json:"wheels"`
	Lot      string      `json:"lot"`
	Place    string      `json:"place"`
	Due      string      `json:"due"`
	LateDays int         `json:"late_days"`
	Round    int         `json:"round"`
	Rounds   int         `json:"rounds"`
	Left     int         `json:"rounds_left"`
	Whole    bool        `json:"whole_shelf"` // every wheel that lies at the place
	Minutes  *float64    `json:"minutes"`
	Why      string      `json:"why"`
	Reasons  reason.List `json:"reasons"`
	Time     *string     `json:"time"`  // of the next round of a timed job, 10:30
	Times    []string    `json:"times"` // of all its rounds left
	Coat     string      `json:"coat,omitempty"`
	To       string      `json:"to,omitempty"`
	Note     string      `json:"note,omitempty"`
}

type todayDoc struct {
	Schema string        `json:"schema"`
	Date   string        `json:"date"`
	Alarms []rooms.Alarm `json:"alarms"`
	Tasks  []taskDoc     `json:"tasks"`
	Totals struct {
		Wheels  int      `json:"wheels"`
		Tasks   int      `json:"tasks"`
		Minutes *float64 `json:"minutes"`
	} `json:"totals"`
}

func (s *session) dayPrint(only, room string, byLot bool) error {
	l, err := s.dayList(only, room, byLot)
	if err != nil {
		return err
	}
	until, _, err := s.asOf()
	if err != nil {
		return err
	}
	alarms, err := roomsAlarms(s, earlier(until, s.now))
	if err != nil {
		return err
	}
	if s.json {
		d := todayOf(l, s.printer())
		d.Alarms = alarms
		return s.document(d)
	}
	for _, x := range alarms {
		s.print("%s\n", s.style("1;33")("AIR of "+x.Room+": "+x.What))
	}
	if err := s.printList(l); err != nil {
		return err
	}
	counts, err := s.tx.Counts()
	if err != nil {
		return err
	}
	switch {
	case len(l.Lines) == 0 && counts.Wheels == 0:
		first := "begin with: rindkeep make new"
		if lots := s.lotNames(); len(lots) > 0 {
			first = "what is in the moulds or out of the press: rindkeep make wheels " + lots[0] + " --weights 2.1kg,2.05kg"
		}
		s.next("\nthe book holds no wheels yet; %s", first)
	case len(l.Lines) > 0:
		for _, n := range l.Lines {
			if words.OwnCommand(n.Job) == "" {
				s.next("\nwhen done: rindkeep did %s %s", n.Job, exampleWhat(n))
				break
			}
		}
	}
	return nil
}

func exampleWhat(l round.Line) string {
	switch {
	case l.WholeShelf:
		return string(l.Place)
	case l.Lot != "" && len(l.Tags) > 1:
		return l.Lot + " --due"
	}
	return l.Tags[0]
}

func todayOf(l round.List, p words.Printer) todayDoc {
	d := todayDoc{Schema: schema("today"), Date: l.Date.String(), Alarms: []rooms.Alarm{}, Tasks: []taskDoc{}}
	for _, n := range l.Lines {
		x := taskDoc{
			Job: string(n.Job), Wheels: n.Tags, Lot: n.Lot, Place: string(n.Place), Due: n.Due.String(), LateDays: n.LateDays, Round: n.Round, Rounds: n.Rounds, Left: n.Left, Whole: n.WholeShelf,
			Minutes: num(n.Minutes), Why: p.Why(n.Why), Reasons: n.Why, Times: filled(clocks(n)), Coat: n.Coat, To: n.To, Note: n.Note,
		}
		if len(x.Times) > 0 {
			x.Time = &x.Times[0]
		}
		d.Tasks = append(d.Tasks, x)
	}
	d.Totals.Wheels, d.Totals.Tasks, d.Totals.Minutes = l.Wheels, len(l.Lines), num(l.Minutes)
	if l.Minutes == 0 {
		zero := 0.0
		d.Totals.Minutes = &zero
	}
	return d
}

// clocks are the times of day of a line's rounds left.
func clocks(n round.Line) []string {
	var out []string
	for _, t := range n.Times {
		out = append(out, t.Format("15:04"))
	}
	return out
}

// timed says at what times of day a line's rounds are to be done; "" for a job
// without.
func timed(n round.Line) string {
	if len(n.Times) == 0 {
		return ""
	}
	return "at " + strings.Join(clocks(n), ", ")
}

// overdue is how long a line's next round is past its time of day, 0 for one that
// is not, or was for another day.
func overdue(n round.Line, now time.Time) time.Duration {
	if len(n.Times) == 0 || n.LateDays > 0 {
		return 0
	}
	return max(0, now.Sub(n.Times[0]).Truncate(time.Minute))
}

// printList prints the list for a clipboard: a box for every round left, the
// place as a heading, late work named as late.
func (s *session) printList(l round.List) error {
	width := s.env.Columns()
	bold := s.style("1")
	s.print("%s\n", bold(l.Date.Long()))
	if len(l.Lines) == 0 {
		s.print("nothing to do\n")
		return nil
	}
	late := 0
	now := time.Time{}
	if l.Date == s.today {
		now = s.now
	}
	for _, n := range l.Lines {
		if n.LateDays > 0 || overdue(n, now) > 0 {
			late++
		}
	}
	s.print("%s to handle, %s, about %s", text.Count(l.Wheels, "wheel"), text.Count(len(l.Lines), "job"), text.Duration(l.Minutes))
	if late > 0 {
		s.print(", %d late", late)
	}
	s.print("\n")
	warn := s.style("1;33")
	lateRows := map[int]bool{}
	noted := map[string]bool{} // a note is read once, on its first line
	for i := 0; i < len(l.Lines); {
		place := l.Lines[i].Place
		if i == 0 || place.Room() != l.Lines[i-1].Place.Room() {
			s.print("\n%s\n", bold(roomHeading(place)))
		}
		if shelf := within(place); shelf != "" {
			s.print("  %s\n", shelf)
		}
		t := text.Table{Indent: 4, Columns: []text.Column{{}, {}, {Wrap: true}, {Wrap: true}}}
		for k := range lateRows {
			delete(lateRows, k)
		}
		for ; i < len(l.Lines) && l.Lines[i].Place == place; i++ {
			n := l.Lines[i]
			who := text.Tags(n.Tags)
			if n.WholeShelf {
				who = fmt.Sprintf("all %d: %s", len(n.Tags), who)
			} else if len(n.Tags) > 3 {
				who = fmt.Sprintf("%d: %s", len(n.Tags), who)
			}
			why := strings.TrimPrefix(timed(n)+"; "+s.printer().Why(n.Why), "; ")
			if d := overdue(n, now); d > 0 {
				lateRows[len(t.Rows)] = true
				why = "LATE " + text.Duration(d.Minutes()) + "; " + why
			}
			if n.LateDays > 0 {
				lateRows[len(t.Rows)] = true
				why = strings.TrimSuffix("LATE "+text.Count(n.LateDays, "day")+"; "+why, "; ")
			}
			if n.Note != "" && !noted[n.Note] {
				noted[n.Note] = true
				why = strings.TrimPrefix(why+"; "+n.Note, "; ")
			}
			job := string(n.Job)
			switch {
			case n.Job == wheel.Coat && n.Coat != "":
				job += " " + n.Coat
			case n.Job == wheel.Move && n.To != "":
				job += " to " + n.To
			case n.Job == wheel.Weigh && len(n.Tags) == 1:
				why += "  ______"
			}
			t.Add(strings.TrimSpace(strings.Repeat("[ ] ", n.Left)), job, who, why)
		}
		t.Style = func(row, col int, cell string) string {
			if lateRows[row] && col > 0 {
				return warn(cell)
			}
			return cell
		}
		s.lines(t.Lines(width))
	}
	if c := cautions(l); c != "" {
		s.print("\n")
		s.caution(c)
	}
	return nil
}

func cautions(l round.List) string {
	for _, n := range l.Lines {
		if n.Job == wheel.Coat && n.Coat == "wax" {
			return waxCaution
		}
	}
	return ""
}

func roomHeading(p cave.Place) string {
	if p == "" {
		return "no place given"
	}
	return p.Room()
}

func within(p cave.Place) string {
	_, rest, ok := strings.Cut(string(p), "/")
	if !ok {
		return ""
	}
	rack, shelf, ok := strings.Cut(rest, "/")
	if !ok {
		return "rack " + rack
	}
	return "rack " + rack + ", shelf " + shelf
}

func earlier(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}
