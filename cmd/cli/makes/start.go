package makes

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/library"
	"rindkeep/cmd/app/start"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/cli/round"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/store"
)

// beginning is what start asks.
type beginning struct {
	answers
	zone      string
	sure, yes bool

	temp      quantity.Celsius
	rh        quantity.Fraction
	rind      start.Rind
	coated    bool
	coatedOn  string // "": since when isn't known
	countries string
}

// StartCmd is start.
func StartCmd(c *console.Console) *cobra.Command {
	f := &beginning{answers: answers{interview: newInterview(c)}}
	flags := map[string]*string{}
	cmd := c.NowCmd("start", "Start your book: answer a few questions and get today's list", `
rindkeep start                                    asks; Enter takes what it suggests
rindkeep start --place fridge --variety tomme --wheels 4 --weights 1880,,1905,1894     an invented example
rindkeep start --place "farm cellar" --temp 11C --rh 88% --variety cheddar --rind cloth --made 2026-09-14 \
    --wheels 60 --coated 2026-09-16 --country GB`, console.NoArgs,
		func(*cobra.Command, []string) error {
			for _, q := range f.questions() {
				q.word = *flags[q.flag]
			}
			return f.run()
		})
	cmd.Long = `Start your book: answer a few questions and get today's list.

Nothing is saved until the end, when you've seen all of it. Each question has a flag,
so it works without a terminal as well. Run it again for the next make.`
	for _, x := range []struct{ flag, about string }{
		{"place", "`PLACE` where the wheels are stored: a room or room/rack/shelf"},
		{"temp", "usual `TEMPERATURE` there, of a new room (default: 10C in a fridge, else 12C)"},
		{"rh", "usual humidity there, `PERCENT`, of a new room (default: 80% in a fridge, else 85%)"},
		{"variety", "`KIND` of cheese, in any words of its name"},
		{"made", "make `DATE`, or unknown (default: today)"},
		{"wheels", "`N` wheels"},
		{"weights", "`WEIGHTS` today, one for each wheel or one for all; blank if not weighed: 2080,,2095"},
		{"rind", "what becomes of the rind: `wax|cloth|bare` (default: as usual for the kind)"},
		{"coated", "`yes|no|DATE`: the wax or cloth is on already (default no)"},
		{"treatment", "milk `raw|thermised|pasteurised`"},
		{"country", "whose food law you follow, ISO `CODES` like IE (default: none)"},
	} {
		flags[x.flag] = cmd.Flags().String(x.flag, "", x.about)
	}
	flags["units"] = new(string)
	cmd.Flags().StringVar(&f.zone, "zone", "", "IANA time `ZONE` of a new book (default: this machine's)")
	cmd.Flags().BoolVar(&f.sure, "sure", false, "save it although weights look wrong")
	cmd.Flags().BoolVar(&f.yes, "yes", false, "at a terminal: save without asking")
	cmd.Flags().SortFlags = false
	c.Completes(cmd, "variety", library.VarietyNames)
	c.Completes(cmd, "place", console.RoomNames)
	return cmd
}

// run asks, shows what it heard, records it and shows today's list.
func (f *beginning) run() error {
	c := f.Console
	if f.zone == "" {
		f.zone = c.Env.ZoneName()
	}
	var err error
	if f.Ground, err = start.Survey(c.Ctx, c.App, c.Caller(), f.zone); err != nil {
		return err
	}
	if !f.New {
		c.ReaderUnits()
	}
	if u, given := c.UnitsFlag(); given && f.New {
		f.qs[1].word = string(u)
	}
	if f.New {
		if err := c.BookFolder(); err != nil {
			return err
		}
	}
	if c.Env.InTTY {
		f.greet()
	}
	return f.save()
}

// save asks what wasn't answered yet, and records it once the person agrees and the book does.
func (f *beginning) save() error {
	for {
		if err := f.take(); err != nil {
			return err
		}
		if ok, err := f.confirmed(); err != nil || !ok {
			return err
		}
		did, err := f.begin()
		for err != nil && f.rightAnyway(err) {
			did, err = f.begin()
		}
		if err == nil {
			return f.show(did)
		}
		if !f.mend(err) {
			f.keep()
			return cmp.Or(f.err, err)
		}
	}
}

func (f *beginning) greet() {
	what := "There's no book yet; this starts one."
	if !f.New {
		what = fmt.Sprintf("Your book has %s; this adds a make.", text.Count(f.Wheels, "wheel"))
	}
	f.lines(what + " Nothing is saved until you've seen all of it. Enter takes the answer in brackets. " +
		"You can change an answer at the end.")
	fmt.Fprintln(f.Env.Err)
}

// lines tells the person at the terminal something.
func (f *beginning) lines(s string) {
	for _, l := range text.Wrap(s, f.Env.Columns()) {
		fmt.Fprintln(f.Env.Err, l)
	}
}

// confirmed shows what will be recorded, and asks whether to save it. A number asks one of
// the questions again.
func (f *beginning) confirmed() (bool, error) {
	if !f.Env.InTTY || f.yes {
		return true, nil
	}
	asked := slices.DeleteFunc(slices.Clone(f.qs), func(q *question) bool { return !q.answered })
	tb := text.Table{Columns: []text.Column{{Right: true}, {}, {Wrap: true}}}
	for i, q := range asked {
		tb.Add(strconv.Itoa(i+1), q.label, q.shown)
	}
	fmt.Fprintln(f.Env.Err, "\nThis will be saved:")
	for _, l := range tb.Lines(f.Env.Columns()) {
		fmt.Fprintln(f.Env.Err, l)
	}
	n := -1
	f.until("save it? (yes, no, or the number of a line to change)", "yes", func(w string) (err error) {
		switch strings.ToLower(w) {
		case "y", "yes":
			n = 0
		case "n", "no":
			n = -1
		default:
			if n, err = strconv.Atoi(w); err != nil || n < 1 || n > len(asked) {
				return console.Usagef("type yes, no, or a number from 1 to %d", len(asked))
			}
		}
		return nil
	})
	switch {
	case f.err != nil:
		return false, f.err
	case n < 0:
		f.Note("nothing was saved")
		return false, nil
	case n > 0:
		f.again(asked[n-1].flag)
		if err := f.take(); err != nil {
			return false, err
		}
		return f.confirmed()
	}
	return true, nil
}

// rightAnyway asks whether what looks wrong to the book is right.
func (f *beginning) rightAnyway(err error) bool {
	if !f.Env.InTTY || f.sure || !app.AsRefusal(err).Sure {
		return false
	}
	f.say(err)
	f.sure = f.confirm("is it right nevertheless?", "no")
	return f.sure && f.err == nil
}

// mend asks again for the answer that the book refuses; false where nobody can say.
func (f *beginning) mend(err error) bool {
	r := app.AsRefusal(err)
	if f.err != nil || !f.Env.InTTY || r.At.Field == "" {
		return false
	}
	if !r.Sure {
		f.say(err)
	}
	field := r.At.Field
	if field == "date" {
		field = "made"
	}
	return f.again(field)
}

// keep prints the answers as flags, so that nobody has to type them twice.
func (f *beginning) keep() {
	line := "rindkeep start"
	if f.Book != f.Env.DefaultBook() {
		line += " --book " + words.Shell(f.Book)
	}
	for _, q := range f.qs {
		if q.word != "" {
			line += " --" + q.flag + " " + words.Shell(q.word)
		}
	}
	if f.Env.InTTY {
		f.Note("nothing was saved; to try again with the same answers:\n  %s", line)
	}
}

func (f *beginning) begin() (app.Did[start.Begun], error) {
	c := f.Console
	a := start.Answers{
		Place: f.place, Temp: &f.temp, RH: &f.rh, Kind: f.kind, Made: f.made, Wheels: f.wheels, Weights: f.weights,
		Rind: f.rind, Coated: f.coated, CoatedOn: f.coatedOn, Treatment: f.treatment, Sure: f.sure,
	}
	q, err := f.Request(a)
	if err != nil {
		return app.Did[start.Begun]{}, err
	}
	q.Settings = store.Settings{Zone: f.zone, Units: string(c.Units), Countries: f.countries}
	return start.Begin(c.Ctx, c.App, c.Caller(), q)
}

func (f *beginning) show(did app.Did[start.Begun]) error {
	c := f.Console
	d, done, err := console.Recorded(c, did, nil, func(d *start.Begun) { c.Words.FillToday(&d.Today) })
	if done {
		return err
	}
	if d.NewBook {
		c.Note("new book at %s, time zone %s", c.Book, f.zone)
	}
	c.Print("saved lot %s, %s: %s, %s\n", d.Make.Lot, d.Title, text.Count(len(d.Wheels), "wheel"), text.Tags(d.Wheels))
	if d.NewRoom {
		c.Print("new room %s: %s\n", d.Room.Name, c.Words.SetPoint(d.Room.Room))
	}
	c.Print("\n")
	round.ShowDay(c, d.Today)
	if len(d.Cautions) > 0 {
		c.Print("\n")
		c.Cautions(d.Cautions)
	}
	round.NextOfDay(c, d.Today)
	if n := d.Next.List; len(n.Lines) > 0 {
		c.Next("\nthe first work: %s, %s: rindkeep today --on %s", n.Date.Long(), c.Words.DaySum(d.Next), n.Date)
	}
	if n := len(d.Unweighed); n > 0 && !d.TakenOver {
		c.Next("not weighed yet: %s. Weigh each as drying starts: rindkeep weigh %s WEIGHT", text.Tags(d.Unweighed),
			d.Unweighed[0])
	} else if n > 0 {
		c.Next("loss counts from a wheel's first weight: rindkeep weigh %s WEIGHT", d.Unweighed[0])
	}
	c.Next("another make: rindkeep start. Every day: rindkeep today. On your phone: rindkeep page. Wrong? "+
		"rindkeep make void %s --why TEXT", d.Make.Lot)
	return nil
}
