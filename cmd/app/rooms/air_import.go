package rooms

import (
	"context"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store/register"
)

// airBatch is how many readings one transaction takes: enough to be quick, few
// enough to bound memory.
const airBatch = 50_000

// tooSoon is how far ahead of the clock a reading may be: loggers' clocks differ.
const tooSoon = 2 * time.Minute

// Logger reads a logger's file, its times in a zone, from its start, and hands the
// readings over in order.
type Logger func(zone *time.Location, each func(cave.Reading) error) error

// OddReading: a reading of a file looks wrong.
type OddReading struct {
	Number int           `json:"reading"` // from 1
	Why    reason.Reason `json:"why"`
}

// FutureReading: a reading of a file is in the future.
type FutureReading struct {
	Number int       `json:"reading"`
	At     time.Time `json:"at"`
}

func (OddReading) Code() string    { return "odd-reading" }
func (FutureReading) Code() string { return "reading-in-future" }

// Imported is what a logger's file came to in the book.
type Imported struct {
	Room  string
	Added int
	Try   bool           // nothing was recorded: it was only read
	Zone  *time.Location // of the book
}

// Load asks to record a logger's file.
type Load struct {
	Room string
	File string // its name
	Try  bool   // only read it
	Sure bool   // though readings look wrong, or a safety hold ends with them
	Why  string // needed where one does
}

// ImportAir reads a logger's file twice: once to see that all of it is sound, once
// to record it, part by part. A run that is cut short can be run again: what is in
// the book already changes nothing.
func ImportAir(ctx context.Context, a *app.App, c app.Caller, q Load, file Logger) (Imported, error) {
	type found struct {
		room cave.Room
		zone *time.Location
		now  time.Time
	}
	f, err := app.Ask(ctx, a, c, func(s *app.Session) (found, error) {
		r, err := room(s, q.Room)
		return found{r, s.Zone, s.Time}, err
	})
	out := Imported{Room: f.room.Name, Zone: f.zone, Try: q.Try}
	if err != nil {
		return out, err
	}
	n := 0
	err = file(f.zone, func(rd cave.Reading) error {
		if n++; n%10000 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		if odd := rd.Odd(); odd != nil && !q.Sure {
			return app.Unsure(OddReading{n, odd})
		}
		if rd.At.After(f.now.Add(tooSoon)) {
			return app.Refuse(FutureReading{n, rd.At.In(f.zone)})
		}
		return nil
	})
	if err != nil || q.Try {
		return out, err
	}
	part := func(rs []cave.Reading) func(*app.Session) (int, error) {
		return func(s *app.Session) (int, error) { return q.put(s, f.room, rs) }
	}
	if n > airBatch { // all of it or nothing, if a hold ends by it
		if err := parts(f.zone, file, func(rs []cave.Reading) error {
			_, err := app.Try(ctx, a, c, part(rs))
			return err
		}); err != nil {
			return out, err
		}
	}
	if err := a.BackupFirst(ctx, n > 10*airBatch); err != nil {
		return out, err
	}
	err = parts(f.zone, file, func(rs []cave.Reading) error {
		d, err := app.Act(ctx, a, c, part(rs))
		out.Added += d.Result
		return err
	})
	return out, err
}

// parts hands a file over in parts of airBatch.
func parts(zone *time.Location, file Logger, take func([]cave.Reading) error) error {
	var batch []cave.Reading
	err := file(zone, func(rd cave.Reading) error {
		if batch = append(batch, rd); len(batch) < airBatch {
			return nil
		}
		defer func() { batch = batch[:0] }()
		return take(batch)
	})
	if err == nil && len(batch) > 0 {
		err = take(batch)
	}
	return err
}

// put records the readings that aren't in the book.
func (q Load) put(s *app.Session, r cave.Room, rs []cave.Reading) (n int, err error) {
	if rs, err = s.Tx.NewAir(r.Name, rs); err != nil || len(rs) == 0 {
		return 0, err
	}
	source, err := s.AirFrom(register.AirSource{Room: r.Name, Table: true, File: q.File})
	if err != nil {
		return 0, err
	}
	for i := range rs {
		rs[i].Source = source
	}
	err = s.KeepingAir(lift(r, q.Why, q.Sure), app.AirChange{
		Room: r.Name, From: rs[0].At, To: rs[len(rs)-1].At, Late: app.LateTable,
	}, func() error {
		n, err = s.Write.PutAir(r.Name, rs)
		return err
	})
	return n, err
}
