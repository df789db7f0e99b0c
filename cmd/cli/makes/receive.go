package makes

import (
	"cmp"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/library"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/store"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
)

// arrivalFlags are what make receive and make take-over are told, as typed.
type arrivalFlags struct {
	q               makes.Receive
	zone            string
	wheels          int
	weight, weights string
	last            []string
	shape           console.ShapeFlags
}

func receiveCmd(c *console.Console) *cobra.Command {
	var m arrivalFlags
	cmd := c.Cmd("receive", "Save bought-in wheels as they come", `
rindkeep make receive --from "Fern Bank Dairy" --lot FB-0412 --document 5531 --variety tomme \
    --made 2026-09-30 --treatment raw --wheels 40 --weight 1.9kg --place cellar/B
rindkeep make receive --from "Fern Bank Dairy" --variety gouda --wheels 12 --coat wax \
    --temp 6C --price "11.40 EUR"                   the make date and the weights aren't known`,
		console.NoArgs, func(cmd *cobra.Command, _ []string) error {
			if m.q.Arrival.Supplier == "" {
				return console.Usagef("--from is missing: the supplier. For older wheels of your own: rindkeep make take-over")
			}
			return m.take(c, cmd)
		})
	cmd.Long = `Save bought-in wheels as they come.

Their age counts from the make. Their loss counts from the day they came: what they
lost before isn't known. The plan starts on that day, and nothing is late then.`
	f := cmd.Flags()
	a := &m.q.Arrival
	f.StringVar(&a.Supplier, "from", "", "`SUPPLIER` who sent them")
	f.StringVar(&a.Maker, "maker", "", "`NAME` of the maker, if that isn't the supplier")
	f.StringVar(&a.Lot, "lot", "", "the maker's lot `CODE`, as on the label")
	f.StringVar(&m.q.Lot, "own-lot", "", "your own lot `CODE` (default: the maker's)")
	f.StringVar(&a.Document, "document", "", "`NUMBER` of the delivery document")
	f.StringVar(&a.DocumentType, "document-type", "", "its `TYPE` (default: delivery note)")
	m.add(c, cmd)
	console.Figure(f, &a.Price, console.As(func(s string) (x float64, err error) {
		x, a.Currency, err = makes.Money(s)
		return x, err
	}), "price", "", "`PRICE` of a kilogram, like \"11.40 EUR\"")
	return cmd
}

func takeOverCmd(c *console.Console) *cobra.Command {
	var m arrivalFlags
	cmd := c.Cmd("take-over", "Save older wheels of your own", `
rindkeep make take-over --variety cheddar-waxed --made 2026-01-24 --wheels 4 --weight 2080 \
    --coat wax --coated-on 2026-02-10 --place cellar/A
rindkeep make take-over --variety tomme --wheels 60 --place cellar/B --last turn=tue --last brush=2026-11-20`,
		console.NoArgs, func(cmd *cobra.Command, _ []string) error { return m.take(c, cmd) })
	cmd.Long = `Save older wheels of your own that aren't in the book yet.

Their age counts from the make. Their loss counts from the first weight you give:
what they lost before isn't known. The plan starts today, and nothing is late.
Wheels that are in the book already: rindkeep wheel take-over WHAT.`
	f := cmd.Flags()
	f.StringVar(&m.q.Lot, "lot", "", "lot `CODE` (default: yymmdd and a letter)")
	m.add(c, cmd)
	f.StringVar(&m.q.HereSince, "here-since", "", "`DATE` since when they have been at that place")
	return cmd
}

func (m *arrivalFlags) add(c *console.Console, cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&m.q.Variety, "variety", "", "`NAME` of the kind of cheese")
	f.StringVar(&m.q.Made, "made", "", "make `DATE`, if it's known")
	f.IntVar(&m.wheels, "wheels", 0, "`N` wheels")
	f.StringVar(&m.weight, "weight", "", "`WEIGHT` of each wheel as it comes")
	f.StringVar(&m.weights, "weights", "", "`WEIGHTS` as they come, one for each wheel: 1940,1952,1937")
	placeFlags(c, cmd, &m.q.Place, &m.q.Plan)
	f.StringVar(&m.q.Milk.Species, "milk", "", "`SPECIES`: cow, goat, sheep, buffalo")
	console.Figure(f, &m.q.Milk.Treatment, console.As(wheel.ParseTreatment), "treatment", "",
		"`raw|thermised|pasteurised`, if it's known")
	console.Maybe(f, &m.q.Arrival.Temp, console.Temp, "temp", "`TEMPERATURE` of the cheese as it comes")
	f.StringVar(&m.q.Coat, "coat", "", "`KIND` of coat they have on: wax, cloth, oil, breathable, foil")
	f.StringVar(&m.q.CoatedOn, "coated-on", "", "`DATE` the coat went on, if it's known")
	f.StringArrayVar(&m.last, "last", nil, "`JOB=DATE`: when a job was last done; may be repeated")
	f.StringVar(&m.q.SoldAs, "sold-as", "", "`NAME` the cheese is sold under")
	f.StringVar(&m.q.Country, "country", "", "`CODES` of the countries whose food law it follows")
	f.StringVar(&m.q.Note, "note", "", "note about the lot: `TEXT`")
	m.shape.Add(cmd)
	f.BoolVar(&m.q.Sure, "sure", false, "save it although weights, measures or the place look wrong")
	f.StringVar(&m.zone, "zone", "", "time `ZONE` of a new book, like Europe/Dublin")
	f.SortFlags = false
	c.Completes(cmd, "variety", library.VarietyNames)
	c.Completes(cmd, "coat", func(*app.Session) (out []string) {
		return app.Each(drying.Coats(), func(k drying.Coat) string { return string(k) })
	})
}

// request reads what was typed.
func (m *arrivalFlags) request(c *console.Console, cmd *cobra.Command) (q makes.Receive, err error) {
	in := c.Figures()
	if q = m.q; q.Variety == "" {
		return q, console.Usagef("--variety is missing; rindkeep variety list shows what there is")
	}
	if m.weight != "" && m.weights != "" {
		return q, console.Usagef("give --weight for all or --weights one by one, not both")
	}
	if q.Arrival.Document != "" && q.Arrival.DocumentType == "" {
		q.Arrival.DocumentType = makes.DeliveryNote
	}
	for _, l := range m.last {
		job, on, ok := strings.Cut(l, "=")
		if !ok {
			return q, console.Usagef("can't read --last %q; give it like turn=2026-11-20", console.SafeWord(l))
		}
		q.Last = append(q.Last, makes.LastJob{Job: job, On: on})
	}
	if m.wheels != 0 || cmd.Flags().Changed("wheels") {
		q.Wheels = &m.wheels
	}
	if m.weight != "" {
		q.Weights = []quantity.Grams{in.Weight("--weight", m.weight)}
	} else if m.weights != "" {
		q.Weights = weightList(in, m.weights)
	}
	q.Shape, err = m.shape.Shape()
	return q, cmp.Or(in.Err, err)
}

func (m *arrivalFlags) take(c *console.Console, cmd *cobra.Command) error {
	q, err := m.request(c, cmd)
	if err != nil {
		return err
	}
	if err := c.CreateBook(store.Settings{Zone: m.zone}); err != nil {
		return err
	}
	did, err := console.Surely(c, makes.Take, &q, &q.Sure)
	return console.Done(c, did, err, arrived)
}

func arrived(c *console.Console, d makes.Arrived) {
	c.Print("lot %s, %s, %s: %s, %s\n", d.Make.Lot, d.Title, c.Words.MadeOn(d.Date, d.Make.DateKnown, d.Age),
		text.Count(len(d.Wheels), "wheel"), text.Tags(d.Wheels))
	c.Indented(c.Words.Arrived(d))
	if len(d.Held) > 0 {
		c.Caution(c.Words.AlsoHeld(d))
	}
	if d.AskMilk {
		c.Caution(c.Words.AskMilk(d.Make.Lot))
	}
	if d.NoDoc {
		c.Caution(c.Words.NoDocument(d.Wheels))
	}
	c.Next("plan %s; it starts now, and nothing is late. What is due: rindkeep today", d.Plan)
	if !d.Make.DateKnown {
		c.Next("without a make date, ages count from %s; the supplier can tell it", d.Make.Date)
	}
	if d.NoAddr != "" {
		c.Next("where %s is, for the traceability sheet: %s", text.Safe(d.NoAddr), c.Words.SaveAddress(d.NoAddr))
	}
	if !d.Weighed {
		c.Next("weigh some of them: loss counts from the first weight: rindkeep weigh %s WEIGHT", d.Wheels[0])
	}
}
