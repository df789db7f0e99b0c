package care

import (
	"context"
	"errors"
	"os"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/app/round"
	"rindkeep/cmd/scenario"
	"rindkeep/store"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

// Demo asks for a book of an invented cave.
type Demo struct {
	Wheels int    // 0: as many as a small creamery has
	Seed   uint64 // decides the invented chance
	Zone   string // IANA
}

// MaxDemo is the most wheels that are invented.
const MaxDemo = 5_000_000

// Invent writes the book of an invented cave, all of it or none. A file that is there
// is never touched.
func Invent(ctx context.Context, a *app.App, q Demo) (err error) {
	zone, err := time.LoadLocation(q.Zone)
	if err != nil {
		return app.Refuse(app.NoSuchZone{Zone: q.Zone})
	}
	now := a.Now().UTC().Truncate(time.Millisecond)
	set := store.Settings{Created: now, Zone: q.Zone, Name: scenario.Name}
	b, err := store.Create(a.Book, set, store.Options{Now: a.Now})
	if err != nil {
		return app.About(a.Book, inTheWay(err, AnotherBook))
	}
	defer func() {
		if err = errors.Join(err, b.Close()); err != nil {
			os.Remove(a.Book)
		}
	}()
	put := func(p scenario.Book) error {
		if err := ctx.Err(); err != nil {
			return err
		}
		return b.Update(func(tx *store.WriteTx) error { return putInvented(tx, p) })
	}
	if q.Wheels > 0 {
		return scenario.Large(day.At(now, zone), zone, now, q.Seed, q.Wheels, put)
	}
	p, err := scenario.Small(day.At(now, zone), zone, q.Seed)
	if err != nil {
		return err
	}
	return put(p)
}

func putInvented(tx *store.WriteTx, p scenario.Book) error {
	for _, r := range p.Rooms {
		if err := tx.PutRoom(r); err != nil {
			return err
		}
	}
	for _, m := range p.Makes {
		if err := tx.PutMake(m); err != nil {
			return err
		}
	}
	if err := tx.AddWheels(p.Wheels); err != nil {
		return err
	}
	_, err := tx.Put(p.Entries...)
	return err
}

// Tour is the three answers that the program is for, from a demo's book.
type Tour struct {
	Schema   string         `json:"schema"`
	Book     string         `json:"book"`
	Invented bool           `json:"invented"`
	Today    round.Today    `json:"today"`
	Dry      []drying.Wheel `json:"dry"` // of those that wait for a coat, not more than Few

	Name     string        `json:"-"` // of the invented creamery
	Wheels   int           `json:"-"` // in the book
	Many     bool          `json:"-"` // more than Few: to read, there are Today's sums alone
	Wheel    string        `json:"-"` // the one shown
	Curves   drying.Curves `json:"-"` // of that wheel
	Verdicts []app.Judged  `json:"-"` // of Dry
}

// Few is up to how many wheels a demo lists what it has.
const Few = 200

// Look goes through a demo's book, for a document or for people, who get its turning
// alone as Today's list.
func Look(ctx context.Context, a *app.App, c app.Caller, document bool) (Tour, error) {
	return app.Ask(ctx, a, c, func(s *app.Session) (Tour, error) {
		t := Tour{Schema: app.Schema("demo"), Book: a.Book, Invented: true, Dry: []drying.Wheel{}, Name: scenario.Name}
		n, err := s.Tx.Counts()
		if err != nil {
			return t, err
		}
		t.Wheels, t.Many = n.Wheels, n.Here > Few
		asked := round.Asked{Together: !document}
		if !document && !t.Many {
			asked.Only = []wheel.Job{wheel.Turn}
		}
		if t.Today, err = round.Day(s, asked); err != nil || t.Many && !document {
			return t, err
		}
		if t.Verdicts, err = drying.Waiting(s, s.Time, app.Narrow{}, Few); err != nil {
			return t, err
		}
		for _, j := range t.Verdicts {
			t.Dry = append(t.Dry, drying.WheelOf(j))
		}
		if t.Wheel, err = shownWheel(s, t.Verdicts); err != nil {
			return t, err
		}
		t.Curves, err = drying.CurvesOf(s, drying.CurveQuestion{What: t.Wheel})
		return t, err
	})
}

// shownWheel is the first that isn't dry enough yet, else the first there is.
func shownWheel(s *app.Session, waiting []app.Judged) (string, error) {
	for _, j := range waiting {
		if j.Dry.Answer == verdict.NotYet {
			return j.Life.Tag, nil
		}
	}
	if len(waiting) > 0 {
		return waiting[0].Life.Tag, nil
	}
	ws, err := s.Pick([]string{"all"})
	if err != nil || len(ws) == 0 {
		return "", err
	}
	return ws[0].Tag, nil
}
