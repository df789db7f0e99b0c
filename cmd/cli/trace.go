package cli

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/spf13/cobra"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/store"
	"rindkeep/wheel"
)

// traceFlags are what a trace was asked for.
type traceFlags struct {
	ingredient, customer, room, from, to string
	recall, fsma, site                   string
}

func (a *app) traceCmd() *cobra.Command {
	var f traceFlags
	c := a.cmd("trace [WHAT...]", "One step back and one forward: what went in, who had it", `
rindkeep trace 261120A-03                          one wheel
rindkeep trace 261120A                             a lot, and what its curd went into
rindkeep trace --ingredient 4417                   all that a culture, rennet, salt or milk lot went into
rindkeep trace --customer "The Corner Shop"        all that a customer had
rindkeep trace --room cellar --from 2026-11-01 --to 2026-11-20
rindkeep trace 261120A --recall recall.csv         the recall list, a row a delivery
rindkeep trace 261120A --fsma sheet.xlsx           the sortable sheet of the US rule; .csv too`, cobra.ArbitraryArgs, func(cmd *cobra.Command, args []string) error {
		if err := f.check(a, args); err != nil {
			return err
		}
		var files []tableFile
		if err := a.view(func(s *session) error {
			t, err := s.trace(args, &f)
			if err != nil {
				return err
			}
			if f.recall != "" {
				files = append(files, tableFile{f.recall, "recall", recallHead, t.recallRows()})
			}
			if f.fsma != "" {
				if f.site == "" {
					f.site = s.tx.Settings().Name
				}
				files = append(files, tableFile{f.fsma, "FSMA 204", fsmaHead, t.fsmaRows(f.site)})
			}
			switch {
			case f.recall == "-" || f.fsma == "-":
			case s.json:
				return s.document(s.traceDocOf(t))
			default:
				s.traceText(t)
			}
			return nil
		}); err != nil {
			return err
		}
		for _, file := range files {
			if err := a.writeTable(file); err != nil {
				return err
			}
		}
		if f.fsma != "" {
			a.note("the columns are what FSMA 204 (US) names for making and shipping, in our own words; whether it asks them of your cheese, your local authority decides")
			if f.site == "" {
				a.note("its columns of where it was made and shipped from are empty: give --site \"NAME, ADDRESS\"")
			}
		}
		return nil
	})
	f.add(a, c)
	fl := c.Flags()
	fl.StringVar(&f.recall, "recall", "", "write the recall list to `FILE`: CSV, or a workbook where it ends in .xlsx; - for standard output")
	fl.StringVar(&f.fsma, "fsma", "", "write the sortable sheet of FSMA 204 to `FILE`: CSV, or a workbook where it ends in .xlsx; - for standard output")
	fl.StringVar(&f.site, "site", "", "with --fsma: your `NAME, ADDRESS` (default: the book's name)")
	return c
}

// add gives a command the flags that say what to trace, and completes them.
func (f *traceFlags) add(a *app, c *cobra.Command) {
	fl := c.Flags()
	fl.StringVar(&f.ingredient, "ingredient", "", "the `LOT` number of an ingredient or of milk")
	fl.StringVar(&f.customer, "customer", "", "a customer's `NAME`")
	fl.StringVar(&f.room, "room", "", "a `ROOM`; needs --from and --to")
	fl.StringVar(&f.from, "from", "", "with --room: from `DATE` on")
	fl.StringVar(&f.to, "to", "", "with --room: up to and with `DATE`")
	fl.SortFlags = false
	a.completes(c, "customer", (*session).customerNames)
	a.completes(c, "room", (*session).roomNames)
	a.completesArgs(c, func(s *session, _ int, word string) []string { return traceWords(s, word) })
}

func traceWords(s *session, word string) []string {
	if s.tx == nil {
		return nil
	}
	out := s.lotNames()
	if word == "" {
		return out
	}
	ws, err := s.tx.TagsStarting(word)
	if err != nil {
		return out
	}
	for i, w := range ws {
		if i == 200 {
			break
		}
		out = append(out, w.Tag)
	}
	return out
}

// check refuses flags that do not go together.
func (f *traceFlags) check(a *app, args []string) error {
	asked := 0
	for _, yes := range []bool{len(args) > 0, f.ingredient != "", f.customer != "", f.room != ""} {
		if yes {
			asked++
		}
	}
	switch {
	case asked == 0 && f.from+f.to != "":
		return usagef("--from and --to need --room: trace --room ROOM --from DATE --to DATE")
	case asked == 0:
		return usagef("trace what? Give a tag, a lot, --ingredient LOT, --customer NAME, or --room ROOM --from DATE --to DATE")
	case asked > 1:
		return usagef("trace one thing at a time: tags and lots, --ingredient, --customer or --room")
	case f.room != "" && (f.from == "" || f.to == ""):
		return usagef("--room needs --from DATE and --to DATE")
	case f.room == "" && f.from+f.to != "":
		return usagef("--from and --to go with --room")
	case a.on != "" || a.at != "":
		return usagef("a trace covers all there is in the book; leave --on and --at out")
	case f.recall == "-" && f.fsma == "-":
		return usagef("only one of --recall and --fsma can go to standard output")
	case f.recall != "" && f.recall == f.fsma:
		return usagef("--recall and --fsma are two tables; name a file for each")
	case a.json && (f.recall == "-" || f.fsma == "-"):
		return usagef("--json and a table both want standard output; name a file for the table")
	case f.site != "" && f.fsma == "":
		return usagef("--site goes with --fsma")
	}
	return nil
}

// asked is what a trace is of.
type asked struct {
	kind     string // wheels, lots, ingredient, customer, room
	words    []string
	from, to day.Date // of a room
}

// String says it in words.
func (q asked) String() string {
	names := strings.Join(q.words, ", ")
	switch q.kind {
	case "ingredient":
		return "ingredient lot " + names
	case "customer":
		return "customer " + names
	case "room":
		return fmt.Sprintf("room %s, %s to %s", names, q.from, q.to)
	case "lots":
		if len(q.words) == 1 {
			return "lot " + names
		}
		return "lots " + names
	case "wheels":
		if len(q.words) == 1 {
			return "wheel " + names
		}
		return "wheels " + names
	}
	return names
}

// reach says how a trace came to a lot.
type reach string

const (
	reachAsked reach = "asked"     // it was asked about, or has wheels that were
	reachInto  reach = "curd-into" // curd of a lot asked about went into it
	reachFrom  reach = "curd-from" // curd of it went into a lot asked about
)

// madeWrote is what the person did who wrote a make down.
const madeWrote = "wrote the make"

// traced is all that a trace found.
type traced struct {
	asked      asked
	at         time.Time
	loc        *time.Location
	lots       []*tracedLot
	deliveries []delivery
	known      map[string]store.Customer // by folded name
}

// tracedLot is one make of a trace, with the wheels of it that are concerned:
// none of a lot that only gave curd.
type tracedLot struct {
	make   wheel.Make // as its log tells of it
	lines  []wheel.MakeLine
	title  string // of its variety
	reach  reach
	of     int // wheels of the lot in all
	wheels []tracedWheel
	hands  []hand
	air    []airSpell // by room and by the days wheels came and went
	rooms  []airSpell // by room alone, from the first that came to the last that went
}

// tracedWheel is one wheel of a trace.
type tracedWheel struct {
	life  wheel.Life
	ended time.Time // when it left; zero while it is here
	lost  bool
}

func (w tracedWheel) here() bool { return w.ended.IsZero() }

// hand is one person who handled a lot.
type hand struct {
	by          string
	entries     int
	first, last day.Date
	did         map[string]int
}

// airSpell is the air of a room while wheels of a lot lay in it.
type airSpell struct {
	room     string
	from, to day.Date
	wheels   []string
	readings int
	temp, rh cave.Range // without readings the room's set point
	setPoint bool       // there is one to tell
	now      bool       // they lie there still
}

// delivery is one wheel, or a piece of one, that went to a customer.
type delivery struct {
	wheel, lot, title string
	customer          string
	on                day.Date
	entry             wheel.Entry
	document          string
}

func (d delivery) part() string {
	if d.entry.Kind == wheel.SentPart {
		return "piece"
	}
	return "whole"
}

// picked is the wheels of one make that a trace concerns; all for every one.
type picked struct {
	all    bool
	wheels map[uuid.UUID]bool
	reach  reach
}

// tracer gathers a trace.
type tracer struct {
	*session
	order []uuid.UUID // makes, as they were come to
	picks map[uuid.UUID]*picked
	only  string // the customer whose deliveries alone are listed
	rooms map[string]*roomDays
}

func (t *tracer) pick(mk uuid.UUID, r reach, wheels ...uuid.UUID) {
	p := t.picks[mk]
	if p == nil {
		p = &picked{wheels: map[uuid.UUID]bool{}, reach: r}
		t.picks[mk] = p
		t.order = append(t.order, mk)
	}
	p.all = p.all || len(wheels) == 0 && r != reachFrom
	for _, w := range wheels {
		p.wheels[w] = true
	}
}

// trace finds the lots and wheels concerned, follows curd both ways, and
// gathers what the book says of them. Where a lot or tag is named it reads
// those lots alone.
func (s *session) trace(args []string, f *traceFlags) (*traced, error) {
	t := &tracer{session: s, picks: map[uuid.UUID]*picked{}, rooms: map[string]*roomDays{}}
	q, follow, err := t.find(args, f)
	if err != nil {
		return nil, err
	}
	if err := t.curd(follow); err != nil {
		return nil, err
	}
	out := &traced{asked: q, at: s.now, loc: s.loc, known: map[string]store.Customer{}}
	all, err := s.tx.Customers()
	if err != nil {
		return nil, err
	}
	for _, c := range all {
		out.known[strings.ToLower(c.Name)] = c
	}
	for i, mk := range t.order {
		if i%64 == 0 && s.ctx.Err() != nil {
			return nil, s.ctx.Err()
		}
		l, err := t.lotOf(mk, t.picks[mk])
		if err != nil {
			return nil, err
		}
		out.lots = append(out.lots, l)
		for _, w := range l.wheels {
			out.deliveries = append(out.deliveries, t.deliveriesOf(l, w)...)
		}
	}
	rank := map[reach]int{reachAsked: 0, reachInto: 1, reachFrom: 2}
	slices.SortStableFunc(out.lots, func(a, b *tracedLot) int { return rank[a.reach] - rank[b.reach] })
	slices.SortStableFunc(out.deliveries, func(a, b delivery) int {
		if c := a.entry.At.Compare(b.entry.At); c != 0 {
			return c
		}
		if a.customer != b.customer {
			return naturally(a.customer, b.customer)
		}
		return naturally(a.wheel, b.wheel)
	})
	return out, nil
}

// find marks what was asked about; follow says whether curd set aside from it
// is followed into other lots.
func (t *tracer) find(args []string, f *traceFlags) (q asked, follow bool, err error) {
	switch {
	case f.ingredient != "":
		q = asked{kind: "ingredient", words: []string{f.ingredient}}
		return q, true, t.byIngredient(f.ingredient)
	case f.customer != "":
		q = asked{kind: "customer", words: []string{f.customer}}
		name, err := t.byCustomer(f.customer)
		q.words[0] = name
		return q, false, err
	case f.room != "":
		q = asked{kind: "room", words: []string{f.room}}
		if q.from, q.to, err = t.period(f.from, f.to); err != nil {
			return q, false, err
		}
		return q, false, t.byRoom(f.room, q.from, q.to)
	}
	q, err = t.byName(args)
	return q, true, err
}

// byName marks the tags and lots named, gone wheels with them.
func (t *tracer) byName(args []string) (asked, error) {
	var wheels, lots []string
	for _, group := range args {
		for _, word := range strings.Split(group, ",") {
			word = strings.TrimSpace(word)
			if word == "" {
				continue
			}
			if !t.safeName(word) {
				return asked{}, at("WHAT", fmt.Errorf("that is no tag or lot"))
			}
			w, err := t.tx.WheelByTag(word)
			if err == nil {
				t.pick(w.Make, reachAsked, w.ID)
				wheels = append(wheels, word)
				continue
			}
			if !isNotFound(err) {
				return asked{}, err
			}
			m, lerr := t.tx.MakeByLot(word)
			if lerr == nil {
				t.pick(m.ID, reachAsked)
				lots = append(lots, m.Lot)
				continue
			}
			if !isNotFound(lerr) {
				return asked{}, lerr
			}
			var tag, lot store.NotFound
			errors.As(err, &tag)
			errors.As(lerr, &lot)
			near := slices.Concat(lot.Near, tag.Near)
			if strings.Contains(word, "-") {
				near = slices.Concat(tag.Near, lot.Near)
			}
			nf := at(word, store.NotFound{Thing: "wheel or lot", Name: word, Near: near[:min(3, len(near))]})
			if _, rerr := t.tx.Room(word); rerr == nil {
				nf = hint(nf, "a room is traced over a time: rindkeep trace --room %s --from DATE --to DATE", word)
			} else if ierr := t.byIngredient(word); ierr == nil {
				nf = hint(nf, "it is the lot of an ingredient or of milk: rindkeep trace --ingredient %s", shellWord(word))
			} else if !isNotFound(ierr) {
				return asked{}, ierr
			}
			return asked{}, nf
		}
	}
	switch {
	case len(wheels)+len(lots) == 0:
		return asked{}, usagef("trace what? Give a tag or a lot")
	case len(lots) == 0:
		return asked{kind: "wheels", words: wheels}, nil
	case len(wheels) == 0:
		return asked{kind: "lots", words: lots}, nil
	}
	return asked{kind: "mixed", words: append(lots, wheels...)}, nil
}

// byIngredient marks the lots whose log names the lot number of an ingredient
// or of milk. It goes through the logs of all makes.
func (t *tracer) byIngredient(lot string) error {
	n := 0
	near := map[string]bool{}
	for m, err := range t.tx.Makes() {
		if err != nil {
			return err
		}
		if n++; n%256 == 0 && t.ctx.Err() != nil {
			return t.ctx.Err()
		}
		es, err := t.tx.History(m.ID)
		if err != nil {
			return err
		}
		for _, l := range wheel.NewMakeSheet(m, es).Lines {
			if l.Log.Lot == "" {
				continue
			}
			near[l.Log.Lot] = true
			if strings.EqualFold(l.Log.Lot, lot) {
				t.pick(m.ID, reachAsked)
			}
		}
	}
	slices.Reverse(t.order) // oldest first
	if len(t.order) == 0 {
		err := at("--ingredient", store.NotFound{Thing: "ingredient or milk lot", Name: lot})
		if len(near) > 0 {
			return hint(err, "lot numbers are those that make log was given; there are %d of them", len(near))
		}
		return hint(err, "no make's log names any lot number yet: rindkeep make log --help")
	}
	return nil
}

// byCustomer marks the wheels that a customer had. It goes through all entries.
func (t *tracer) byCustomer(name string) (string, error) {
	c, cerr := t.tx.Customer(name)
	if cerr == nil {
		name = c.Name
	} else if !isNotFound(cerr) {
		return name, cerr
	}
	t.only = name
	spelt := ""
	var wheels []uuid.UUID
	if err := t.tx.EachLogged(t.ctx, store.LogQuery{Match: func(e store.Logged) bool {
		return (e.Kind == wheel.Sent || e.Kind == wheel.SentPart) && !e.Struck && strings.EqualFold(e.To, name)
	}}, func(e store.Logged) error {
		spelt = e.To
		wheels = append(wheels, e.Subject)
		return nil
	}); err != nil {
		return name, err
	}
	if cerr != nil {
		if len(wheels) == 0 {
			return name, at("--customer", cerr)
		}
		name = spelt
	}
	return name, t.pickWheels(wheels)
}

// pickWheels marks wheels, the oldest lots first.
func (t *tracer) pickWheels(ids []uuid.UUID) error {
	type of struct {
		m wheel.Make
		w wheel.Wheel
	}
	var ws []of
	for _, id := range ids {
		w, err := t.tx.Wheel(id)
		if err != nil {
			return err
		}
		m, err := t.tx.Make(w.Make)
		if err != nil {
			return err
		}
		ws = append(ws, of{m, w})
	}
	slices.SortStableFunc(ws, func(a, b of) int {
		if a.m.Date != b.m.Date {
			return int(a.m.Date) - int(b.m.Date)
		}
		return naturally(a.m.Lot, b.m.Lot)
	})
	for _, w := range ws {
		t.pick(w.m.ID, reachAsked, w.w.ID)
	}
	return nil
}

func (t *tracer) period(from, to string) (a, b day.Date, err error) {
	if a, err = day.ParsePast(from, t.today); err != nil {
		return a, b, at("--from", usageError{Msg: "--from " + err.Error()})
	}
	if b, err = day.ParsePast(to, t.today); err != nil {
		return a, b, at("--to", usageError{Msg: "--to " + err.Error()})
	}
	if b < a {
		return a, b, at("--to", usagef("--to %s is before --from %s", b, a))
	}
	return a, b, nil
}

// byRoom marks the wheels that lay in a room on any day of a period. It goes
// through all wheels.
func (t *tracer) byRoom(room string, from, to day.Date) error {
	r, err := t.tx.Room(room)
	if err != nil {
		return at("--room", err)
	}
	var ids []uuid.UUID
	n := 0
	for w, err := range t.tx.EachWheel() {
		if err != nil {
			return err
		}
		if n++; n%256 == 0 && t.ctx.Err() != nil {
			return t.ctx.Err()
		}
		m, err := t.tx.Make(w.Make)
		if err != nil {
			return err
		}
		if m.Date > to {
			continue
		}
		tw, err := t.wheelOf(w, m)
		if err != nil {
			return err
		}
		for _, st := range t.roomStays(tw) {
			if st.room == r.Name && st.from <= to && st.to >= from {
				ids = append(ids, w.ID)
				break
			}
		}
	}
	return t.pickWheels(ids)
}
