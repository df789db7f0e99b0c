package makes

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/cli/console"
	"rindkeep/wheel"
)

// lineFlags are what make log is told.
type lineFlags struct {
	wheel.MakeLog
	supplier, note string
	temp           *quantity.Celsius
}

// takes are the flags of each kind of line.
var takes = map[wheel.LogWhat][]string{
	wheel.LogMilk:        {"source", "species", "litres", "treatment", "heat", "heat-for", "fat", "protein", "lot"},
	wheel.LogIngredient:  {"kind", "name", "lot", "supplier", "amount", "stage"},
	wheel.LogAcidity:     {"ph", "acid", "stage"},
	wheel.LogTemp:        {"temp", "stage"},
	wheel.LogCurd:        {"weight", "stage"},
	wheel.LogSetAside:    {"weight", "for", "into"},
	wheel.LogSalt:        {"weight", "rate", "where"},
	wheel.LogPress:       {"load", "lever", "diameter", "turned"},
	wheel.LogStep:        {"stage"},
	wheel.LogComposition: {"moisture", "sd", "fat", "salt", "ph", "stage"},
}

var (
	ingredients = []string{"culture", "rennet", "salt", "colour", "calcium", "other"}
	saltPlaces  = []string{"curd", "brine", "rub"}
	treatments  = []string{string(wheel.Raw), string(wheel.Thermised), string(wheel.Pasteurised)}
)

// subjects are the kinds of line a person writes.
func subjects() []string {
	var out []string
	for _, w := range wheel.LogWhats {
		if takes[w] != nil {
			out = append(out, string(w))
		}
	}
	return out
}

const logExamples = `
rindkeep make log 261120A milk --litres 120 --source "Hill Farm" --species cow \
    --treatment raw --fat 3.9% --protein 3.4% --lot H1120 --at 2026-11-20T06:30
rindkeep make log 261120A milk --litres 80 --treatment pasteurised --heat 72C --heat-for 15s
rindkeep make log 261120A ingredient --kind culture --name "mesophilic" --lot C77 \
    --supplier "Culture House" --amount "2 g"
rindkeep make log 261120A acidity --ph 6.45 --stage renneting
rindkeep make log 261120A acidity --acid 0.16% --stage cutting
rindkeep make log 261120A temp --temp 38.5C --stage scalding
rindkeep make log 261120A curd --weight 19.5kg
rindkeep make log 261120A set-aside --weight 4kg --for "fresh curd" --into 261120B
rindkeep make log 261120A salt --weight 285g --rate 1.8% --where curd
rindkeep make log 261120A press --load 10kg --lever 4 --diameter 15cm --turned
rindkeep make log 261120A step --stage "cut, hazelnut size"
rindkeep make log 261120A composition --moisture 37.2% --fat 32.5% --salt 1.7% --ph 5.25`

func logCmd(c *console.Console) *cobra.Command {
	var l lineFlags
	cmd := c.Cmd("log LOT WHAT", "Write a line of a make's log, as it happens or with --at", logExamples,
		func(cmd *cobra.Command, args []string) error {
			if l.asks(c, cmd, args) {
				return nil
			}
			return console.Exactly("LOT", "WHAT")(cmd, args)
		}, func(cmd *cobra.Command, args []string) (err error) {
			q := makes.NewLine{Note: l.note}
			if l.asks(c, cmd, args) {
				q.Lot, q.Line, err = l.ask(c, cmd, args)
			} else {
				q.Lot = args[0]
				q.Line, err = l.line(cmd, args[1])
			}
			if err != nil {
				return err
			}
			return console.Do(c, makes.Log, q, logged)
		})
	cmd.Long = cmd.Short + ".\n\nWithout flags, a terminal asks for what the line has; Enter leaves a question out."
	l.add(c, cmd)
	return c.CompletesArgs(cmd, func(s *app.Session, nth int, word string) []string {
		if nth == 1 {
			return subjects()
		}
		return lots(s, nth, word)
	})
}

func (l *lineFlags) add(c *console.Console, cmd *cobra.Command) {
	f := cmd.Flags()
	console.Figure(f, &l.Litres, console.Volume, "litres", "", "milk: `VOLUME`")
	f.StringVar(&l.Source, "source", "", "milk: `NAME` of the supplier")
	f.StringVar(&l.Species, "species", "", "milk: `SPECIES`: cow, goat, sheep, buffalo")
	console.Figure(f, &l.Treatment, console.As(wheel.ParseTreatment), "treatment", "", "milk: `raw|thermised|pasteurised`")
	console.Figure(f, &l.HeatTemp, console.Temp, "heat", "", "milk: `TEMP` it was heated to")
	console.Figure(f, &l.HeatFor, console.As(quantity.ParseSeconds), "heat-for", "",
		"milk: `TIME` it was held there: 15s, 30min")
	console.Figure(f, &l.Fat, console.Percent, "fat", "", "milk, composition: `PERCENT` fat")
	console.Figure(f, &l.Protein, console.Percent, "protein", "", "milk: `PERCENT` protein")
	f.StringVar(&l.Lot, "lot", "", "milk, ingredient: its lot `NUMBER`")
	f.StringVar(&l.Kind, "kind", "", "ingredient: `KIND`: "+strings.Join(ingredients, ", "))
	f.StringVar(&l.Name, "name", "", "ingredient: its `NAME`")
	f.StringVar(&l.supplier, "supplier", "", "ingredient: `NAME` of the supplier")
	f.StringVar(&l.Amount, "amount", "", "ingredient: `AMOUNT` as measured: \"4 ml\"")
	console.NumberVar(f, &l.PH, "ph", 0, "acidity, composition: `PH`")
	console.Figure(f, &l.Acid, console.Percent, "acid", "",
		"acidity: titratable, `PERCENT` lactic acid (1 degree Dornic is 0.01 %)")
	console.Maybe(f, &l.temp, console.Temp, "temp", "temp: `TEMP`")
	f.StringVar(&l.Stage, "stage", "", "acidity, temp, step and others: the stage, in your `WORDS`")
	console.Figure(f, &l.Weight, console.Bulk, "weight", "", "curd, set-aside, salt: `WEIGHT`")
	f.StringVar(&l.For, "for", "", "set-aside: its purpose, `TEXT`")
	f.StringVar(&l.ToLot, "into", "", "set-aside: the `LOT` it went into, saved before")
	console.Figure(f, &l.Rate, console.Percent, "rate", "", "salt: the rate wanted, a `PERCENT` of the curd")
	f.StringVar(&l.Where, "where", "", "salt: `curd|brine|rub` (curd)")
	console.Figure(f, &l.Load, console.Bulk, "load", "", "press: `WEIGHT` on the press")
	console.Figure(f, &l.Lever, console.As(quantity.ParseRatio), "lever", "",
		"press: `RATIO` of the lever (as the line before, or 1)")
	console.Figure(f, &l.Diameter, console.Length, "diameter", "", "press: `LENGTH` across the mould (as the line before)")
	f.BoolVar(&l.Turned, "turned", false, "press: turned and redressed before")
	console.Figure(f, &l.Moisture, console.Percent, "moisture", "",
		"composition, as drying starts: measured `PERCENT` moisture")
	console.Figure(f, &l.SD, console.Percent, "sd", "",
		"composition: standard deviation of the moisture, `PERCENT` (0.5 %)")
	console.Figure(f, &l.Salt, console.Percent, "salt", "", "composition: measured `PERCENT` salt")
	f.StringVar(&l.note, "note", "", "note to save with it: `TEXT`")
	f.SortFlags = false
	c.Completes(cmd, "into", console.LotNames)
	for flag, words := range map[string][]string{"treatment": treatments, "where": saltPlaces, "kind": ingredients} {
		c.Completes(cmd, flag, func(*app.Session) []string { return words })
	}
}

// kindOfLine reads the kind of a line.
func kindOfLine(word string) (wheel.LogWhat, error) {
	what := wheel.LogWhat(strings.ToLower(strings.TrimSpace(word)))
	if takes[what] != nil {
		return what, nil
	}
	err := console.Usagef("no line %q in a make's log; give %s", console.SafeWord(word), strings.Join(subjects(), ", "))
	if slices.Contains(ingredients, string(what)) {
		err = console.Hint(console.Usagef("no line %q in a make's log: it is an ingredient", what),
			"give it like: rindkeep make log LOT ingredient --kind %s --name NAME --lot NUMBER", what)
	}
	return what, console.At("WHAT", err)
}

// line reads the flags of one kind of line and refuses those of another.
func (l *lineFlags) line(cmd *cobra.Command, word string) (wheel.MakeLog, error) {
	what, err := kindOfLine(word)
	if err != nil {
		return wheel.MakeLog{}, err
	}
	flags := takes[what]
	stray := ""
	cmd.Flags().Visit(func(f *pflag.Flag) {
		own := cmd.InheritedFlags().Lookup(f.Name) == nil && f.Name != "note"
		if own && !slices.Contains(flags, f.Name) && stray == "" {
			stray = f.Name
		}
	})
	if stray != "" {
		return wheel.MakeLog{}, console.Usagef("--%s is not for %s, which takes --%s and --note",
			stray, what, strings.Join(flags, ", --"))
	}
	m := l.MakeLog
	m.What, m.Source = what, m.Source+l.supplier
	m.Kind, m.Species, m.Where = strings.ToLower(m.Kind), strings.ToLower(m.Species), strings.ToLower(m.Where)
	m.Temp = (*float64)(l.temp)
	if what == wheel.LogSalt {
		m.Where = cmp.Or(m.Where, "curd")
		if !slices.Contains(saltPlaces, m.Where) {
			err := console.Usagef("no place %q for salt; give curd, brine or rub", console.SafeWord(l.Where))
			return m, console.At("--where", err)
		}
	}
	if what == wheel.LogSalt && m.Weight == 0 && m.Rate > 0 {
		return m, nil // refused later, with the dose it would be
	}
	if err := m.Check(); err != nil {
		return m, console.Hint(console.Misread(err), "%s takes --%s and --note", what, strings.Join(flags, ", --"))
	}
	return m, nil
}

func logged(c *console.Console, d makes.Logged) {
	words := c.Words.MakeLine(d.Line)
	if d.Same {
		c.Indented(fmt.Sprintf("already logged for lot %s; nothing changed: %s %s", d.Lot, d.Line.What, words))
		return
	}
	c.Print("lot %s, %s, %s\n", d.Lot, d.When.Format("Mon 2 Jan 15:04"), d.Line.What)
	c.Indented(words)
	if d.Into != "" {
		c.Print("lot %s says that it came from lot %s\n", d.Into, d.Lot)
	}
	c.Cautions(d.Cautions)
	if d.Line.Log.What == wheel.LogComposition {
		c.Indented("this lot now uses your measured figures instead of the usual ones")
	}
	c.Next("wrong? rindkeep strike last --why TEXT. The whole sheet: rindkeep make show %s", d.Lot)
}
