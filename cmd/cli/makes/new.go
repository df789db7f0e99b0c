package makes

import (
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

// newFlags are what make new is told, as typed.
type newFlags struct {
	variety, date, lot, weight, weights, place, plan string
	wheels                                           int
	wheelsGiven, sure                                bool
	asked                                            []quantity.Grams // weights, as they were asked for
	species, litres, treatment, milkFat, protein     string
	curd, aside, asideFor, salt, saltRate, saltWhere string
	moisture, moistureSD, fat, cheeseSalt            string
	ph                                               float64
	note, zone, start, soldAs, country               string
	shape                                            console.ShapeFlags
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
	f.StringVar(&m.lot, "lot", "", "lot `CODE` (default: yymmdd and a letter)")
	placeFlags(c, cmd, &m.place, &m.plan)
	m.addRecord(c, cmd)
	f.StringVar(&m.zone, "zone", "", "IANA time `ZONE` of a new book (default: this machine's)")
	f.BoolVar(&m.sure, "sure", false, "save it although weights, measures or the place look wrong")
	f.SortFlags = false
}

// addRecord adds the flags of what the book says of a make as a whole.
func (m *newFlags) addRecord(c *console.Console, cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&m.variety, "variety", "", "`NAME` of the kind of cheese")
	f.StringVar(&m.date, "date", "", "make `DATE` (default: --on, --at or today)")
	f.StringVar(&m.start, "start", "", "`TIME` the make began, like 8:30; jobs of the make's day count from it")
	f.StringVar(&m.species, "milk", "", "`SPECIES`: cow, goat, sheep, buffalo")
	f.StringVar(&m.litres, "litres", "", "`VOLUME` of milk")
	f.StringVar(&m.treatment, "treatment", "", "`raw|thermised|pasteurised`")
	f.StringVar(&m.milkFat, "milk-fat", "", "`PERCENT` fat in the milk")
	f.StringVar(&m.protein, "milk-protein", "", "`PERCENT` protein in the milk")
	f.StringVar(&m.curd, "curd", "", "`WEIGHT` of curd")
	f.StringVar(&m.aside, "set-aside", "", "`WEIGHT` of curd set aside")
	f.StringVar(&m.asideFor, "set-aside-for", "", "purpose of the curd set aside: `TEXT`")
	f.StringVar(&m.salt, "salt", "", "`WEIGHT` of salt added")
	f.StringVar(&m.saltRate, "salt-rate", "", "salt as a `PERCENT` of the curd")
	f.StringVar(&m.saltWhere, "salt-where", "", "`curd|brine|rub`")
	f.StringVar(&m.moisture, "moisture", "", "measured `PERCENT` moisture as drying starts")
	f.StringVar(&m.moistureSD, "moisture-sd", "", "its standard deviation, `PERCENT`")
	f.StringVar(&m.fat, "fat", "", "measured `PERCENT` fat as drying starts")
	f.StringVar(&m.cheeseSalt, "cheese-salt", "", "measured `PERCENT` salt as drying starts")
	console.NumberVar(f, &m.ph, "ph", 0, "`PH` as drying starts")
	m.shape.Add(cmd)
	f.StringVar(&m.soldAs, "sold-as", "", "`NAME` it is sold under; laws have rules for some names")
	f.StringVar(&m.country, "country", "", "whose food law its wheels follow, ISO `CODES` (default: the book's)")
	f.StringVar(&m.note, "note", "", "note to save with it: `TEXT`")
	c.Completes(cmd, "variety", library.VarietyNames)
}

// placeFlags adds the flags that say where wheels lie and by which plan they ripen.
func placeFlags(c *console.Console, cmd *cobra.Command, place, plan *string) {
	cmd.Flags().StringVar(place, "place", "", "`ROOM/RACK/SHELF` they lie in")
	cmd.Flags().StringVar(plan, "plan", "", "rind plan `NAME` (default: the variety's)")
	c.Completes(cmd, "plan", func(s *app.Session) []string { return library.Names(s, library.Plan) })
	c.Completes(cmd, "place", console.RoomNames)
}

func (m *newFlags) request(in *console.Figures) (makes.New, error) {
	if m.variety == "" {
		return makes.New{}, console.Usagef("--variety is missing; rindkeep variety list shows what there is")
	}
	if m.weight != "" && m.weights != "" {
		return makes.New{}, console.Usagef("give --weight for all or --weights one by one, not both")
	}
	q := m.fields(in)
	if m.wheelsGiven {
		q.Wheels = &m.wheels
	}
	if q.Weights = m.asked; m.weight+m.weights != "" {
		q.Weights = weightList(in, m.weight+m.weights)
	}
	return q, in.Err
}

// fields reads what was given of a make; what wasn't is zero.
func (m *newFlags) fields(in *console.Figures) makes.New {
	return makes.New{
		Variety: m.variety, Lot: m.lot, Note: m.note, Date: m.date, Start: m.start, SoldAs: m.soldAs,
		Country: m.country,
		Milk: wheel.Milk{
			Species: m.species, Litres: given(in.Volume, "--litres", m.litres), Treatment: treatment(in, m.treatment),
			Fat: given(in.Percent, "--milk-fat", m.milkFat), Protein: given(in.Percent, "--milk-protein", m.protein),
		},
		Curd: given(in.Bulk, "--curd", m.curd), SetAside: given(in.Bulk, "--set-aside", m.aside), SetAsideFor: m.asideFor,
		Salt: given(in.Bulk, "--salt", m.salt), SaltRate: given(in.Percent, "--salt-rate", m.saltRate),
		SaltWhere: m.saltWhere, PH: m.ph, Moisture: console.Optional(in.Percent, "--moisture", m.moisture),
		MoistureSD: console.Optional(in.Percent, "--moisture-sd", m.moistureSD),
		Fat:        console.Optional(in.Percent, "--fat", m.fat),
		CheeseSalt: console.Optional(in.Percent, "--cheese-salt", m.cheeseSalt),
		Batch:      makes.Batch{Place: m.place, Plan: m.plan, Shape: m.shape.Given(in), Sure: m.sure},
	}
}

// given reads a flag that may be left out; it is zero then.
func given[T any](read func(flag, value string) T, flag, value string) (v T) {
	if value != "" {
		v = read(flag, value)
	}
	return v
}

func treatment(in *console.Figures, value string) wheel.Treatment {
	return given(func(flag, value string) wheel.Treatment {
		return console.Read(in, flag, value, wheel.ParseTreatment)
	}, "--treatment", value)
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
	did, err := console.AskedAgain(c, func(yes bool) (app.Did[makes.Made], error) {
		q.Sure = m.sure || yes
		return makes.Create(c.Ctx, c.App, c.Caller(), q)
	})
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
