package makes

import (
	"cmp"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/library"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/store"
	"rindkeep/wheel"
)

// newFlags are what make new is told.
type newFlags struct {
	makes.New
	weight, weights string
	wheels          int
	wheelsGiven     bool
	zone            string
	shape           console.ShapeFlags
}

func newCmd(c *console.Console) *cobra.Command {
	var m newFlags
	cmd := c.Cmd("new", "Save a make and its wheels", `
rindkeep make new                                       asks, on a terminal
rindkeep make new --variety gouda --wheels 4 --weight 2.1kg --place fridge
rindkeep make new --variety cheddar-waxed --wheels 3 --weights 1940,1952,1937 \
    --milk cow --litres 60 --treatment raw --curd 6.1kg --salt-rate 1.8%
rindkeep make new --variety tomme --wheels 6 --on 2026-11-20 --diameter 20cm --height 8cm`, console.NoArgs,
		func(cmd *cobra.Command, _ []string) error {
			given := false
			cmd.Flags().Visit(func(f *pflag.Flag) { given = given || cmd.InheritedFlags().Lookup(f.Name) == nil })
			if !given {
				if !c.Env.InTTY {
					return console.Usagef("make new needs at least --variety and --wheels; on a terminal it asks for them")
				}
				if err := ask(c, &m); err != nil {
					return err
				}
			}
			m.wheelsGiven = m.wheels != 0 || cmd.Flags().Changed("wheels")
			return create(c, &m)
		})
	m.add(c, cmd)
	return cmd
}

func (m *newFlags) add(c *console.Console, cmd *cobra.Command) {
	f := cmd.Flags()
	f.IntVar(&m.wheels, "wheels", 0, "`N` wheels")
	f.StringVar(&m.weight, "weight", "", "green `WEIGHT` of each wheel, as drying starts")
	f.StringVar(&m.weights, "weights", "", "green `WEIGHTS`, one for each wheel: 1940,1952,1937")
	f.StringVar(&m.Lot, "lot", "", "lot `CODE` (default: yymmdd and a letter)")
	placeFlags(c, cmd, &m.Place, &m.Plan)
	m.addRecord(c, cmd)
	f.StringVar(&m.zone, "zone", "", "IANA time `ZONE` of a new book (default: this machine's)")
	f.BoolVar(&m.Sure, "sure", false, "save it although weights, measures or the place look wrong")
	f.SortFlags = false
}

// addRecord adds the flags of what the book says of a make as a whole.
func (m *newFlags) addRecord(c *console.Console, cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&m.Variety, "variety", "", "`NAME` of the kind of cheese")
	f.StringVar(&m.Date, "date", "", "make `DATE` (default: --on, --at or today)")
	f.StringVar(&m.Start, "start", "", "`TIME` the make began, like 8:30; jobs of the make's day count from it")
	f.StringVar(&m.Milk.Species, "milk", "", "`SPECIES`: cow, goat, sheep, buffalo")
	console.Figure(f, &m.Milk.Litres, console.Volume, "litres", "", "`VOLUME` of milk")
	console.Figure(f, &m.Milk.Treatment, console.As(wheel.ParseTreatment), "treatment", "", "`raw|thermised|pasteurised`")
	console.Figure(f, &m.Milk.Fat, console.Percent, "milk-fat", "", "`PERCENT` fat in the milk")
	console.Figure(f, &m.Milk.Protein, console.Percent, "milk-protein", "", "`PERCENT` protein in the milk")
	console.Figure(f, &m.Curd, console.Bulk, "curd", "", "`WEIGHT` of curd")
	console.Figure(f, &m.SetAside, console.Bulk, "set-aside", "", "`WEIGHT` of curd set aside")
	f.StringVar(&m.SetAsideFor, "set-aside-for", "", "purpose of the curd set aside: `TEXT`")
	console.Figure(f, &m.Salt, console.Bulk, "salt", "", "`WEIGHT` of salt added")
	console.Figure(f, &m.SaltRate, console.Percent, "salt-rate", "", "salt as a `PERCENT` of the curd")
	f.StringVar(&m.SaltWhere, "salt-where", "", "`curd|brine|rub`")
	console.Maybe(f, &m.Moisture, console.Percent, "moisture", "measured `PERCENT` moisture as drying starts")
	console.Maybe(f, &m.MoistureSD, console.Percent, "moisture-sd", "its standard deviation, `PERCENT`")
	console.Maybe(f, &m.Fat, console.Percent, "fat", "measured `PERCENT` fat as drying starts")
	console.Maybe(f, &m.CheeseSalt, console.Percent, "cheese-salt", "measured `PERCENT` salt as drying starts")
	console.NumberVar(f, &m.PH, "ph", 0, "`PH` as drying starts")
	m.shape.Add(cmd)
	f.StringVar(&m.SoldAs, "sold-as", "", "`NAME` it is sold under; laws have rules for some names")
	f.StringVar(&m.Country, "country", "", "whose food law its wheels follow, ISO `CODES` (default: the book's)")
	f.StringVar(&m.Note, "note", "", "note to save with it: `TEXT`")
	c.Completes(cmd, "variety", library.VarietyNames)
}

// placeFlags adds the flags that say where wheels lie and by which plan they ripen.
func placeFlags(c *console.Console, cmd *cobra.Command, place, plan *string) {
	cmd.Flags().StringVar(place, "place", "", "`ROOM/RACK/SHELF` they lie in")
	cmd.Flags().StringVar(plan, "plan", "", "rind plan `NAME` (default: the variety's)")
	c.Completes(cmd, "plan", func(s *app.Session) []string { return library.Names(s, library.Plan) })
	c.Completes(cmd, "place", console.RoomNames)
}

// request is what was given of a make; what wasn't is zero.
func (m *newFlags) request(in *console.Figures) (q makes.New, err error) {
	if q = m.New; q.Variety == "" {
		return q, console.Usagef("--variety is missing; rindkeep variety list shows what there is")
	}
	if m.weight != "" && m.weights != "" {
		return q, console.Usagef("give --weight for all or --weights one by one, not both")
	}
	if m.wheelsGiven {
		q.Wheels = &m.wheels
	}
	if m.weight+m.weights != "" {
		q.Weights = weightList(in, m.weight+m.weights)
	}
	q.Shape, err = m.shape.Shape()
	return q, cmp.Or(in.Err, err)
}

// weightList reads weights separated by commas, semicolons or spaces.
func weightList(in *console.Figures, s string) []quantity.Grams {
	var out []quantity.Grams
	for _, part := range quantity.WeightWords(s) {
		for _, w := range strings.Fields(part) {
			out = append(out, in.Weight("--weights", w))
		}
	}
	return out
}

func create(c *console.Console, m *newFlags) error {
	q, err := m.request(c.Figures())
	if err != nil {
		return err
	}
	if err := c.CreateBook(store.Settings{Zone: m.zone}); err != nil {
		return err
	}
	did, err := console.Surely(c, makes.Create, &q, &q.Sure)
	d, done, err := console.Recorded(c, did, err)
	if done {
		return err
	}
	n := len(d.Wheels)
	c.Print("lot %s, %s, made %s: %s", d.Make.Lot, d.Title, d.Date.Long(), text.Count(n, "wheel"))
	if n > 0 {
		c.Print(", %s", text.Tags(d.Wheels))
	}
	c.Print("\n")
	c.Cautions(d.Cautions)
	if n == 0 {
		c.Next("its log: rindkeep make log %s milk --litres VOLUME. "+
			"Its wheels: rindkeep make wheels %s --weights 2.1kg,2.05kg", d.Make.Lot, d.Make.Lot)
		return nil
	}
	c.Next("plan %s. What is due: rindkeep today", d.Plan)
	if !d.Weighed {
		c.Next("weigh each wheel when drying starts (its green weight): rindkeep weigh %s WEIGHT, "+
			"or all in one go: rindkeep make wheels %s --weights WEIGHTS", d.Wheels[0], d.Make.Lot)
	}
	return nil
}
