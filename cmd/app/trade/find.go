package trade

import (
	"errors"
	"slices"
	"strings"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store/history"
	"rindkeep/store/refusal"
	"rindkeep/wheel"
)

// Why a question can't be traced.
const (
	NothingAsked   reason.Flat = "trace-of-nothing"
	SeveralAsked   reason.Flat = "trace-of-several"
	RoomNeedsDates reason.Flat = "trace-room-needs-dates"
	DatesNeedRoom  reason.Flat = "trace-dates-need-room"
	NotATagOrLot   reason.Flat = "no-tag-or-lot"
)

// RoomOverTime is a remedy: a room is traced over some days.
type RoomOverTime struct {
	Room string `json:"room"`
}

// LotOfIngredient is a remedy: it is the lot of an ingredient or of milk.
type LotOfIngredient struct {
	Lot string `json:"lot"`
}

// LotsLogged is a remedy: how many lot numbers the logs of makes name.
type LotsLogged struct {
	Count int `json:"count"`
}

// The codes.

func (RoomOverTime) Code() string    { return "trace-room-over-time" }
func (LotOfIngredient) Code() string { return "trace-ingredient-lot" }
func (LotsLogged) Code() string      { return "ingredient-lots-logged" }

// Check refuses a question of nothing, or of several things.
func (q Question) Check() error {
	asked := 0
	for _, yes := range []bool{len(q.What) > 0, q.Ingredient != "", q.Customer != "", q.Room != ""} {
		if yes {
			asked++
		}
	}
	switch {
	case asked > 1:
		return app.Misuse("", SeveralAsked)
	case q.Room == "" && q.From+q.To != "":
		return app.Misuse("room", DatesNeedRoom)
	case asked == 0:
		return app.Misuse("", NothingAsked)
	case q.Room != "" && (q.From == "" || q.To == ""):
		return app.Misuse("from", RoomNeedsDates)
	}
	return nil
}

// picked is the wheels of one make that a trace concerns; all for every one.
type picked struct {
	all    bool
	wheels map[uuid.UUID]bool
	via    Via
}

// finder gathers a trace.
type finder struct {
	*app.Session
	order []uuid.UUID // makes, as they were found
	picks map[[16]byte]*picked
	only  string // the customer whose deliveries alone are listed; "": all
	rooms map[string]*roomDays

	lacking []string // suppliers and makers whose address the book doesn't have
}

func (t *finder) pick(mk uuid.UUID, via Via, wheels ...uuid.UUID) {
	p := t.picks[mk]
	if p == nil {
		p = &picked{wheels: map[uuid.UUID]bool{}, via: via}
		t.picks[mk] = p
		t.order = append(t.order, mk)
	}
	p.all = p.all || len(wheels) == 0 && via != ViaFrom
	for _, w := range wheels {
		p.wheels[w] = true
	}
}

// find marks what was asked about; follow says whether curd set aside from it is
// followed into other lots.
func (t *finder) find(q Question) (a Asked, follow bool, err error) {
	switch {
	case q.Ingredient != "":
		return Asked{Kind: "ingredient", Of: []string{q.Ingredient}}, true, t.byIngredient(q.Ingredient)
	case q.Customer != "":
		name, err := t.byCustomer(q.Customer)
		return Asked{Kind: "customer", Of: []string{name}}, false, err
	case q.Room != "":
		from, to, err := t.Period(q.From, q.To)
		if err != nil {
			return a, false, err
		}
		return Asked{Kind: "room", Of: []string{q.Room}, From: &from, To: &to}, false, t.byRoom(q.Room, from, to)
	}
	a, err = t.byName(q.What)
	return a, true, err
}

// byName marks the tags and lots named, gone wheels too.
func (t *finder) byName(groups []string) (Asked, error) {
	var wheels, lots []string
	for _, group := range groups {
		for word := range strings.SplitSeq(group, ",") {
			word = strings.TrimSpace(word)
			if word == "" {
				continue
			}
			if !app.Printable(word) {
				return Asked{}, app.Refuse(NotATagOrLot).In("what")
			}
			w, err := t.Tx.WheelByTag(word)
			if err == nil {
				t.pick(w.Make, ViaAsked, w.ID)
			}
			had, herr := t.HadTag(word)
			if herr != nil {
				return Asked{}, herr
			}
			for _, st := range had {
				t.pick(st.Make, ViaAsked, st.Wheel)
			}
			if err == nil || len(had) > 0 && !t.Tx.HasLot(word) {
				wheels = append(wheels, word)
				continue
			}
			if !app.IsNotFound(err) {
				return Asked{}, err
			}
			lot, err := t.byLot(word, err)
			if err != nil {
				return Asked{}, err
			}
			lots = append(lots, lot)
		}
	}
	switch {
	case len(wheels)+len(lots) == 0:
		return Asked{}, app.Misuse("what", NothingAsked)
	case len(lots) == 0:
		return Asked{Kind: "wheels", Of: wheels}, nil
	case len(wheels) == 0:
		return Asked{Kind: "lots", Of: lots}, nil
	}
	return Asked{Kind: "mixed", Of: append(lots, wheels...)}, nil
}

// byLot marks the wheels of a lot, and those that came from a supplier under that code:
// they may be in the book under another. It gives the code as the book writes it.
func (t *finder) byLot(word string, noTag error) (string, error) {
	m, err := t.Tx.MakeByLot(word)
	if err == nil {
		t.pick(m.ID, ViaAsked)
		word = m.Lot
	} else if !app.IsNotFound(err) {
		return word, err
	}
	came, cerr := t.came(word)
	if cerr == nil && err != nil && !came {
		cerr = t.unknown(word, noTag, err)
	}
	return word, cerr
}

// came marks the wheels that came from a supplier under a lot code, if any did.
func (t *finder) came(code string) (bool, error) {
	ws, err := t.ReceivedAs(code)
	for _, w := range ws {
		t.pick(w.Make, ViaAsked, w.Wheel)
	}
	return len(ws) > 0, err
}

// unknown refuses a word that is neither a tag nor a lot, and says what it may be.
func (t *finder) unknown(word string, noTag, noLot error) error {
	var tag, lot refusal.NotFound
	errors.As(noTag, &tag)
	errors.As(noLot, &lot)
	near := slices.Concat(lot.Near, tag.Near)
	if strings.Contains(word, "-") {
		near = slices.Concat(tag.Near, lot.Near)
	}
	r := app.AsRefusal(refusal.NotFound{Thing: "wheel or lot", Name: word, Near: near[:min(3, len(near))]}).Of(word)
	if _, err := t.Tx.Room(word); err == nil {
		r.Remedy = reason.List{RoomOverTime{word}}
	} else if err := t.byIngredient(word); err == nil {
		r.Remedy = reason.List{LotOfIngredient{word}}
	} else if !app.IsNotFound(err) {
		return err
	}
	return r
}

// pause ends a long search when the caller went away; n counts its steps.
func (t *finder) pause(n *int) error {
	if *n++; *n%256 == 0 {
		return t.Ctx.Err()
	}
	return nil
}

// byIngredient marks the lots whose log names the lot number of an ingredient or of
// milk, and the wheels that were bought in under it. It goes through the logs of all makes.
func (t *finder) byIngredient(lot string) error {
	n := 0
	named := map[string]bool{}
	for m, err := range t.Tx.Makes() {
		if err := errors.Join(err, t.pause(&n)); err != nil {
			return err
		}
		es, err := t.Tx.History(m.ID)
		if err != nil {
			return err
		}
		for _, l := range wheel.NewMakeSheet(m, es).Lines {
			if l.Log.Lot == "" {
				continue
			}
			named[l.Log.Lot] = true
			if strings.EqualFold(l.Log.Lot, lot) {
				t.pick(m.ID, ViaAsked)
			}
		}
	}
	slices.Reverse(t.order) // oldest first
	if _, err := t.came(lot); err != nil {
		return err
	}
	if len(t.order) == 0 {
		r := app.AsRefusal(refusal.NotFound{Thing: "ingredient or milk lot", Name: lot}).In("ingredient")
		r.Remedy = reason.List{LotsLogged{len(named)}}
		return r
	}
	return nil
}

// byCustomer marks the wheels that a customer had. It goes through all entries.
func (t *finder) byCustomer(name string) (string, error) {
	c, cerr := t.Tx.Customer(name)
	if cerr == nil {
		name = c.Name
	} else if !app.IsNotFound(cerr) {
		return name, cerr
	}
	t.only = name
	spelt := ""
	var wheels []uuid.UUID
	if err := t.Tx.EachLogged(t.Ctx, history.Query{Match: func(e history.Logged) bool {
		return sends(e.Entry) && !e.Struck && strings.EqualFold(e.To, name)
	}}, func(e history.Logged) error {
		spelt = e.To
		wheels = append(wheels, e.Subject)
		return nil
	}); err != nil {
		return name, err
	}
	if cerr != nil {
		if len(wheels) == 0 {
			return name, app.At("customer", cerr)
		}
		name = spelt
	}
	return name, t.pickWheels(wheels)
}

// pickWheels marks wheels, the oldest lots first.
func (t *finder) pickWheels(ids []uuid.UUID) error {
	type of struct {
		m wheel.Make
		w wheel.Wheel
	}
	var ws []of
	for _, id := range ids {
		w, err := t.Tx.Wheel(id)
		if err != nil {
			return err
		}
		m, err := t.Tx.Make(w.Make)
		if err != nil {
			return err
		}
		ws = append(ws, of{m, w})
	}
	slices.SortStableFunc(ws, func(a, b of) int {
		if a.m.Date != b.m.Date {
			return int(a.m.Date) - int(b.m.Date)
		}
		return cave.NaturalCompare(a.m.Lot, b.m.Lot)
	})
	for _, w := range ws {
		t.pick(w.m.ID, ViaAsked, w.w.ID)
	}
	return nil
}

// byRoom marks the wheels that lay in a room on any day of a period. It goes
// through all wheels.
func (t *finder) byRoom(room string, from, to day.Date) error {
	r, err := t.Tx.Room(room)
	if err != nil {
		return app.At("room", err)
	}
	var ids []uuid.UUID
	n := 0
	for w, err := range t.Tx.EachWheel() {
		if err := errors.Join(err, t.pause(&n)); err != nil {
			return err
		}
		m, err := t.Tx.Make(w.Make)
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
		if slices.ContainsFunc(t.stays(tw), func(st stay) bool {
			return st.room == r.Name && st.from <= to && st.to >= from
		}) {
			ids = append(ids, w.ID)
		}
	}
	return t.pickWheels(ids)
}
