package rooms

import (
	"context"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
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

// ImportAir reads a logger's file twice: once to see that all of it is sound, once
// to record it, part by part. A run that is cut short can be run again: what is in
// the book already changes nothing.
func ImportAir(
	ctx context.Context, a *app.App, c app.Caller, name string, sure, try bool, file Logger,
) (Imported, error) {
	type found struct {
		room cave.Room
		zone *time.Location
		now  time.Time
	}
	f, err := app.Ask(ctx, a, c, func(s *app.Session) (found, error) {
		r, err := room(s, name)
		return found{r, s.Zone, s.Time}, err
	})
	out := Imported{Room: f.room.Name, Zone: f.zone, Try: try}
	if err != nil {
		return out, err
	}
	n := 0
	err = file(f.zone, func(rd cave.Reading) error {
		if n++; n%10000 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		if odd := rd.Odd(); odd != nil && !sure {
			return app.Unsure(OddReading{n, odd})
		}
		if rd.At.After(f.now.Add(tooSoon)) {
			return app.Refuse(FutureReading{n, rd.At.In(f.zone)})
		}
		return nil
	})
	if err != nil || try {
		return out, err
	}
	if err := a.BackupFirst(ctx, n > 10*airBatch); err != nil {
		return out, err
	}
	var batch []cave.Reading
	flush := func() error {
		d, err := app.Act(ctx, a, c, func(s *app.Session) (int, error) { return s.Write.PutAir(f.room.Name, batch) })
		out.Added += d.Result
		batch = batch[:0]
		return err
	}
	err = file(f.zone, func(rd cave.Reading) error {
		if batch = append(batch, rd); len(batch) == airBatch {
			return flush()
		}
		return nil
	})
	if err == nil && len(batch) > 0 {
		err = flush()
	}
	return out, err
}
