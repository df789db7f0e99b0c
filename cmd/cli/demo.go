package cli

import (
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"rindkeep/cave/day"
	uc "rindkeep/cmd/app"
	dryinguc "rindkeep/cmd/app/drying"
	"rindkeep/cmd/app/round"
	dryingcmd "rindkeep/cmd/cli/drying"
	roundcmd "rindkeep/cmd/cli/round"
	"rindkeep/cmd/scenario"
	"rindkeep/cmd/text"
	"rindkeep/store"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

func (a *app) demoCmd() *cobra.Command {
	var wheels int
	var seed uint64
	c := a.cmd("demo", "An invented cave to look around in: today's list, one wheel, who is dry enough", `
rindkeep demo                                  on a temporary book
rindkeep demo --book demo.book                 on a book to keep
rindkeep demo --wheels 100000 --book big.book  a warehouse`, none, func(cmd *cobra.Command, _ []string) error {
		if wheels < 0 || wheels > 5_000_000 {
			return usagef("--wheels %d is out of range; give 1 to 5000000", wheels)
		}
		named := cmd.Flags().Changed("book")
		path := a.book
		if !named {
			dir, err := os.MkdirTemp("", "rindkeep-demo-")
			if err != nil {
				return fmt.Errorf("no room for a temporary book: %s", plainOS(err))
			}
			path = filepath.Join(dir, "demo.book")
		}
		if _, err := os.Lstat(path); err == nil {
			return at(path, hint(fmt.Errorf("there is something at %s already; the demo writes only a new book", safePath(path)), "name another file with --book"))
		}
		a.book = path
		if err := a.demoWrite(wheels, seed); err != nil {
			return err
		}
		return a.demoShow()
	})
	c.Flags().IntVar(&wheels, "wheels", 0, "`N` wheels (default: a small creamery's sixty or so)")
	c.Flags().Uint64Var(&seed, "seed", 1, "`N` that decides the invented chance")
	return c
}

// demoWrite writes the invented book in a file of its own, which gets its name
// only when it is whole.
func (a *app) demoWrite(wheels int, seed uint64) (err error) {
	zone := a.env.ZoneName()
	loc, err := time.LoadLocation(zone)
	if err != nil {
		return err
	}
	now := a.env.Now().UTC().Truncate(time.Millisecond)
	today := day.At(now, loc)
	b, err := store.CreateWith(a.book, store.Settings{Created: now, Zone: zone, Name: scenario.Name}, store.Options{Now: a.env.Now})
	if err != nil {
		return err
	}
	defer func() {
		cerr := b.Close()
		if err == nil {
			err = cerr
		}
		if err != nil {
			os.Remove(a.book)
		}
	}()
	put := func(p scenario.Book) error {
		if err := a.ctx.Err(); err != nil {
			return err
		}
		return b.Update(func(tx *store.WriteTx) error {
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
		})
	}
	if wheels == 0 {
		p, err := scenario.Small(today, loc, seed)
		if err != nil {
			return err
		}
		return put(p)
	}
	return scenario.Large(today, loc, now, seed, wheels, func(p scenario.Book) error { return put(p) })
}

// demoShow prints the three answers the program is for.
func (a *app) demoShow() error {
	return a.view(func(s *session) error {
		if s.json {
			l, err := s.dayList(round.Asked{})
			if err != nil {
				return err
			}
			list, err := dryinguc.Waiting(s.S, s.now, 200)
			if err != nil {
				return err
			}
			wheels := []dryinguc.Wheel{}
			for _, j := range list {
				w := dryinguc.WheelOf(j)
				s.Words.FillVerdict(&w)
				wheels = append(wheels, w)
			}
			return s.document(struct {
				Schema   string           `json:"schema"`
				Book     string           `json:"book"`
				Invented bool             `json:"invented"`
				Today    round.Today      `json:"today"`
				Dry      []dryinguc.Wheel `json:"dry"`
			}{schema("demo"), s.book, true, l, wheels})
		}
		bold := s.style("1")
		s.print("%s\n\n", bold(scenario.Name+": nothing here is real"))
		counts, err := s.tx.Counts()
		if err != nil {
			return err
		}
		if counts.Here > 200 { // a list nobody reads to its end
			s.print("a book of %s at %s\n", text.Count(counts.Wheels, "wheel"), s.book)
			t, err := s.dayList(round.Asked{Together: true})
			if err != nil {
				return err
			}
			l := t.List
			s.print("due today: %s, %s, about %s; see them with rindkeep today --room ROOM\n", text.Count(l.Wheels, "wheel"), text.Count(len(l.Lines), "job"), text.Duration(l.Minutes))
			s.goOn("")
			return nil
		}
		s.print("%s\n", bold("1. Today's turning list (rindkeep today --only turn)"))
		t, err := s.dayList(round.Asked{Only: []wheel.Job{wheel.Turn}, Together: true})
		if err != nil {
			return err
		}
		roundcmd.ShowDay(s.Console, t)
		show, list, err := s.demoWheels()
		if err != nil {
			return err
		}
		s.print("\n%s\n", bold("2. One wheel, its weights and its curve (rindkeep curve "+show+")"))
		cs, err := dryinguc.CurvesOf(s.S, dryinguc.CurveQuestion{What: show})
		if err != nil {
			return err
		}
		dryingcmd.ShowCurves(s.Console, cs)
		s.print("\n%s\n", bold("3. Who is dry enough to wax? (rindkeep dry)"))
		dryingcmd.DryTable(s.Console, list)
		s.goOn(show)
		return nil
	})
}

// demoWheels picks the wheel to show, the youngest that is not yet dry, and
// judges all that wait for a coat.
func (s *session) demoWheels() (show string, list []uc.Judged, err error) {
	if list, err = dryinguc.Waiting(s.S, s.now, 0); err != nil {
		return "", nil, err
	}
	for _, j := range list {
		if j.Dry.Answer == verdict.NotYet {
			return j.Life.Tag, list, nil
		}
	}
	if len(list) > 0 {
		return list[0].Life.Tag, list, nil
	}
	ws, err := s.pick([]string{"all"}) // none waits: any will do
	if len(ws) > 0 {
		show = ws[0].Tag
	}
	return show, nil, err
}

func (s *session) dayList(q round.Asked) (round.Today, error) {
	t, err := round.Day(s.S, q)
	s.Words.FillToday(&t)
	return t, err
}

func (s *session) goOn(tag string) {
	s.print("\nGo on with this book:\n")
	s.print("  export RINDKEEP_BOOK=%s\n", s.book)
	s.print("  rindkeep today                        everything due, not only the turning\n")
	if tag != "" {
		s.print("  rindkeep weigh %s WEIGHT       a weight, and what it means\n", tag)
		s.print("  rindkeep dry %s                rule by rule\n", tag)
	}
	s.print("  rindkeep wheel list                   who is here\n")
	s.print("(run as go run ./cmd/rindkeep instead of rindkeep until it is installed)\n")
}
