package cli

import (
	"bufio"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	uc "rindkeep/cmd/app"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/schedule"
	"rindkeep/wheel"
	"rindkeep/wheel/holdrule"
	"rindkeep/wheel/shape"
	"rindkeep/wheel/variety"
	"rindkeep/wheel/verdict"
)

func (a *app) makeCmd() *cobra.Command {
	return a.group("make", "Makes: a vat's production on one day",
		a.makeNewCmd(), a.makeWheelsCmd(), a.makeLogCmd(), a.makeListCmd(), a.makeShowCmd(), a.makeNoteCmd())
}

// makeFlags are what make new was told.
type makeFlags struct {
	variety, date, lot, weight, weights, place, plan string
	wheels                                           int
	wheelsSaid, sure                                 bool
	species, litres, treatment, milkFat, protein     string
	curd, aside, asideFor, salt, saltRate, saltWhere string
	moisture, moistureSD, fat, cheeseSalt            string
	ph                                               float64
	note, zone, start, country                       string
	shape                                            console.ShapeFlags
}

func (a *app) makeNewCmd() *cobra.Command {
	var m makeFlags
	c := a.cmd("new", "Write down a make and its wheels", `
rindkeep make new                                       asks, on a terminal
rindkeep make new --variety gouda --wheels 4 --weight 2.1kg --place fridge
rindkeep make new --variety cheddar-waxed --wheels 3 --weights 1940,1952,1937 \
    --milk cow --litres 60 --treatment raw --curd 6.1kg --salt-rate 1.8%
rindkeep make new --variety tomme --wheels 6 --on 2026-11-20 --diameter 20cm --height 8cm`, none, func(cmd *cobra.Command, _ []string) error {
		asked := false
		cmd.Flags().Visit(func(f *pflag.Flag) { asked = asked || cmd.InheritedFlags().Lookup(f.Name) == nil })
		if !asked {
			if !a.env.InTTY {
				return usagef("make new needs at least --variety and --wheels; on a terminal it asks for them")
			}
			if err := a.ask(&m); err != nil {
				return err
			}
		}
		if m.variety == "" {
			return usagef("--variety is missing; rindkeep variety list shows what there is")
		}
		m.wheelsSaid = cmd.Flags().Changed("wheels")
		if err := a.create(m.zone); err != nil {
			return err
		}
		return a.update(func(s *session) error { return s.makeNew(&m) })
	})
	f := c.Flags()
	f.StringVar(&m.variety, "variety", "", "`NAME` of the kind of cheese")
	f.IntVar(&m.wheels, "wheels", 0, "`N` wheels")
	f.StringVar(&m.weight, "weight", "", "green `WEIGHT` of each wheel, as drying starts")
	f.StringVar(&m.weights, "weights", "", "green `WEIGHTS`, one for each wheel: 1940,1952,1937")
	f.StringVar(&m.date, "date", "", "make `DATE` (default: --on, --at or today)")
	f.StringVar(&m.start, "start", "", "when the make began, a `TIME` like 8:30: a plan's minutes_after count from it")
	f.StringVar(&m.lot, "lot", "", "lot `CODE` (default: yymmdd and a letter)")
	f.StringVar(&m.place, "place", "", "`ROOM/RACK/SHELF` they lie in")
	f.StringVar(&m.plan, "plan", "", "rind plan `NAME` (default: the variety's)")
	f.StringVar(&m.species, "milk", "", "`SPECIES`: cow, goat, sheep, buffalo")
	f.StringVar(&m.litres, "litres", "", "`VOLUME` of milk")
	f.StringVar(&m.treatment, "treatment", "", "`raw|thermised|pasteurised`")
	f.StringVar(&m.milkFat, "milk-fat", "", "`PERCENT` fat in the milk")
	f.StringVar(&m.protein, "milk-protein", "", "`PERCENT` protein in the milk")
	f.StringVar(&m.curd, "curd", "", "`WEIGHT` of curd")
	f.StringVar(&m.aside, "set-aside", "", "`WEIGHT` of curd set aside")
	f.StringVar(&m.asideFor, "set-aside-for", "", "what for, a `TEXT`")
	f.StringVar(&m.salt, "salt", "", "`WEIGHT` of salt given")
	f.StringVar(&m.saltRate, "salt-rate", "", "salt as a `PERCENT` of the curd")
	f.StringVar(&m.saltWhere, "salt-where", "", "`curd|brine|rub`")
	f.StringVar(&m.moisture, "moisture", "", "measured `PERCENT` moisture as drying starts")
	f.StringVar(&m.moistureSD, "moisture-sd", "", "its standard deviation, `PERCENT`")
	f.StringVar(&m.fat, "fat", "", "measured `PERCENT` fat as drying starts")
	f.StringVar(&m.cheeseSalt, "cheese-salt", "", "measured `PERCENT` salt as drying starts")
	f.Float64Var(&m.ph, "ph", 0, "`PH` as drying starts")
	m.shape.Add(c)
	f.StringVar(&m.country, "country", "", "whose food law its wheels follow, ISO `CODES` (default: the book's)")
	f.StringVar(&m.note, "note", "", "a `TEXT` to keep with it")
	f.BoolVar(&m.sure, "sure", false, "record it although weights or measures look wrong")
	f.StringVar(&m.zone, "zone", "", "IANA time `ZONE` of a new book (default: this machine's)")
	f.SortFlags = false
	a.completes(c, "variety", (*session).varietyNames)
	a.completes(c, "plan", (*session).planNames)
	a.completes(c, "place", (*session).roomNames)
	return c
}

func (s *session) varietyNames() []string { return console.VarietyNames(s.S) }

// planNames are the plans of the book, or of the library where there is no
// book.
func (s *session) planNames() []string {
	var out []string
	ps := schedule.Builtin()
	if s.tx != nil {
		var err error
		if ps, err = s.tx.Plans(); err != nil {
			return nil
		}
	}
	for _, p := range ps {
		out = append(out, p.Name)
	}
	return out
}

// ask asks on the terminal for what a make needs; an empty answer takes the
// default in brackets.
func (a *app) ask(m *makeFlags) error {
	in := bufio.NewScanner(a.env.In)
	line := func(question, def string) (string, error) {
		if err := a.ctx.Err(); err != nil {
			return "", err
		}
		if def != "" {
			question += " [" + def + "]"
		}
		fmt.Fprintf(a.env.Err, "%s: ", question)
		if !in.Scan() {
			if err := a.ctx.Err(); err != nil {
				return "", err
			}
			return "", usagef("the answers ended early; nothing was recorded")
		}
		if w := strings.TrimSpace(in.Text()); w != "" {
			return w, nil
		}
		return def, nil
	}
	until := func(question, def string, ok func(string) error) (string, error) {
		for {
			w, err := line(question, def)
			if err != nil {
				return "", err
			}
			if err := ok(w); err != nil {
				fmt.Fprintf(a.env.Err, "  %s\n", err)
				continue
			}
			return w, nil
		}
	}
	var names []string
	for _, v := range variety.Builtin() {
		names = append(names, v.Name)
	}
	_ = a.view(func(s *session) error { names = s.varietyNames(); return nil })
	fmt.Fprintln(a.env.Err, "kinds of cheese:")
	for _, l := range text.Wrap(strings.Join(names, "  "), 76) {
		fmt.Fprintf(a.env.Err, "  %s\n", l)
	}
	known := func(w string) error {
		for _, n := range names {
			if n == w {
				return nil
			}
		}
		return fmt.Errorf("no variety %q; take one from the list, or add your own with rindkeep variety add", safeWord(w))
	}
	var err error
	if m.variety, err = until("what kind of cheese?", "", known); err != nil {
		return err
	}
	if m.date, err = until("made when?", "today", func(w string) error { _, err := day.ParsePast(w, day.At(a.env.Now(), time.Local)); return err }); err != nil {
		return err
	}
	n, err := until("how many wheels?", "1", func(w string) error {
		if n, err := strconv.Atoi(w); err != nil || n < 1 || n > 10000 {
			return fmt.Errorf("give a number from 1 to 10000")
		}
		return nil
	})
	if err != nil {
		return err
	}
	m.wheels, _ = strconv.Atoi(n)
	if m.weights, err = until("green weights, one for each or one for all (empty: not weighed)", "", func(w string) error {
		if w == "" {
			return nil
		}
		_, err := weightList(w, m.wheels)
		return err
	}); err != nil {
		return err
	}
	if m.treatment, err = until("milk raw, thermised or pasteurised? (empty: not said)", "", func(w string) error {
		if w == "" {
			return nil
		}
		_, err := wheel.ParseTreatment(w)
		return err
	}); err != nil {
		return err
	}
	m.place, err = until("where do they lie? room/rack/shelf (empty: nowhere yet)", "", func(w string) error {
		if w == "" {
			return nil
		}
		_, err := cave.ParsePlace(w)
		return err
	})
	return err
}

// weightList reads one weight for each of n wheels, or one for all of them.
func weightList(s string, n int) ([]quantity.Grams, error) {
	var out []quantity.Grams
	for _, w := range strings.FieldsFunc(s, func(r rune) bool { return r == ',' || r == ';' || r == ' ' }) {
		g, err := quantity.ParseWeight(w)
		if err != nil {
			return nil, err
		}
		out = append(out, g)
	}
	switch {
	case len(out) == 1 && n > 1:
		for len(out) < n {
			out = append(out, out[0])
		}
	case len(out) != n:
		return nil, fmt.Errorf("%d weights for %s; give one for each, or one for all", len(out), text.Count(n, "wheel"))
	}
	return out, nil
}

// youngDays is the age up to which a make that is written down late is kept
// from its make date: what was not done since then is late. An older one is
// kept from the day it is written, or its whole past would be late.
const youngDays = 31

func (s *session) makeNew(m *makeFlags) error {
	mk, v, err := s.makeOf(m)
	if err != nil {
		return err
	}
	given := s.on != "" || s.at != ""
	since, _, err := s.moment()
	if err != nil {
		return err
	}
	weighedAt := since
	if !given {
		if mk.Date < s.today {
			weighedAt = mk.Date.Noon(s.loc)
		}
		if s.today-mk.Date <= youngDays {
			since = weighedAt
		}
	}
	n := m.wheels
	if n == 0 && m.weights != "" {
		n = len(strings.FieldsFunc(m.weights, func(r rune) bool { return r == ',' || r == ';' || r == ' ' }))
	}
	if n == 0 && !m.wheelsSaid && (m.weight != "" || m.place != "") {
		n = 1
	}
	if n < 0 || n > 10000 {
		return usagef("--wheels %d is out of range; give 0 to 10000", n)
	}
	if m.weight != "" && m.weights != "" {
		return usagef("give --weight for all or --weights one by one, not both")
	}
	var weights []quantity.Grams
	if w := m.weight + m.weights; w != "" {
		if weights, err = weightList(w, n); err != nil {
			return at("--weights", usageError{Msg: err.Error()})
		}
	}
	ws, err := s.wheelsOf(m, mk, v, n, weights, since)
	if err != nil {
		return err
	}
	if !m.sure {
		if why := verdict.OddMake(mk, v, ws, weights); why != nil {
			return unsure(errors.New(s.printer().Sentence(why)), "a bare number is grams or centimetres; ")
		}
	}
	if err := s.write.PutMake(mk); err != nil {
		return err
	}
	if err := s.write.AddWheels(ws); err != nil {
		return err
	}
	var entries []wheel.Entry
	for i, g := range weights {
		entries = append(entries, s.entry(wheel.Entry{Subject: ws[i].ID, Kind: wheel.Weighed, At: weighedAt, Weight: g, Note: "green weight"}))
	}
	if _, err := s.write.Put(entries...); err != nil {
		return err
	}
	var tags []string
	for _, w := range ws {
		tags = append(tags, w.Tag)
	}
	if s.json {
		return s.document(struct {
			Schema string   `json:"schema"`
			Make   makeDoc  `json:"make"`
			Wheels []string `json:"wheels"`
		}{schema("make-new"), s.makeDocOf(mk, len(ws)), filled(tags)})
	}
	s.print("lot %s, %s, made %s: %s", mk.Lot, v.Title, mk.Date.Long(), text.Count(len(ws), "wheel"))
	if len(tags) > 0 {
		s.print(", %s", text.Tags(tags))
	}
	s.print("\n")
	if mk.Milk.Treatment == wheel.Raw && !s.quiet {
		w, err := s.rawCautionOf(mk)
		if err != nil {
			return err
		}
		s.caution(w)
	}
	if len(ws) > 0 {
		s.next("plan %s. What is due: rindkeep today", ws[0].Plan)
		if len(weights) == 0 {
			s.next("weigh each as drying starts, that is its green weight: rindkeep weigh %s WEIGHT, or all in one go: rindkeep make wheels %s --weights WEIGHTS", ws[0].Tag, mk.Lot)
		}
	} else {
		s.next("its log: rindkeep make log %s milk --litres VOLUME. Its wheels: rindkeep make wheels %s --weights 2.1kg,2.05kg", mk.Lot, mk.Lot)
	}
	return nil
}

// rawCautionOf is the caution beside raw milk.
func (s *session) rawCautionOf(m wheel.Make) (string, error) {
	r, err := s.S.RawMilk(m, wheel.Raw)
	if err != nil {
		return "", err
	}
	return s.Words.RawMilk(r), nil
}

func (s *session) makeOf(m *makeFlags) (wheel.Make, variety.Variety, error) {
	var mk wheel.Make
	v, err := s.tx.Variety(m.variety)
	if err != nil {
		return mk, v, at("--variety", err)
	}
	id, err := s.recordID()
	if err != nil {
		return mk, v, err
	}
	when, _, err := s.moment()
	if err != nil {
		return mk, v, err
	}
	mk = wheel.Make{ID: id, Lot: m.lot, Date: day.At(when, s.loc), Variety: v.Name, Note: m.note, Written: s.now, By: s.who, SetAsideFor: m.asideFor, SaltWhere: m.saltWhere}
	if m.date != "" {
		if mk.Date, err = day.ParsePast(m.date, s.today); err != nil {
			return mk, v, at("--date", usageError{Msg: "--date " + err.Error()})
		}
		if mk.Date > day.At(when, s.loc) {
			return mk, v, at("--date", fmt.Errorf("the make date %s is in the future: only what has happened can be recorded", mk.Date))
		}
	}
	cs, err := uc.Countries("country", m.country)
	if err != nil {
		return mk, v, err
	}
	mk.Countries = holdrule.Joined(cs)
	if m.start != "" {
		t, exact, err := day.ParseMoment(m.start, mk.Date, s.loc)
		switch {
		case err != nil:
			return mk, v, at("--start", usagef("--start %q is no time of day; write it like 8:30", safeWord(m.start)))
		case !exact:
			return mk, v, at("--start", usagef("--start needs a time of day, like 8:30"))
		case day.At(t, s.loc) != mk.Date:
			return mk, v, at("--start", fmt.Errorf("the make is of %s and cannot have begun on %s", mk.Date, day.At(t, s.loc)))
		case t.After(s.now.Add(2 * time.Minute)):
			return mk, v, at("--start", fmt.Errorf("%s is in the future: only what has happened can be recorded", t.In(s.loc).Format("2006-01-02 15:04")))
		}
		mk.Began = t.UTC().Truncate(time.Millisecond)
	}
	if mk.Lot == "" {
		mk.Lot = wheel.DefaultLot(mk.Date, s.tx.HasLot)
	}
	if err := cave.CheckTag("lot", mk.Lot); err != nil {
		return mk, v, at("--lot", err)
	}
	if m.treatment != "" {
		if mk.Milk.Treatment, err = need("--treatment", m.treatment, wheel.ParseTreatment); err != nil {
			return mk, v, err
		}
	}
	mk.Milk.Species = strings.ToLower(m.species)
	if mk.Milk.Litres, _, err = maybe("--litres", m.litres, quantity.ParseVolume); err != nil {
		return mk, v, err
	}
	for _, x := range []struct {
		flag, value string
		to          *quantity.Grams
	}{{"--curd", m.curd, &mk.Curd}, {"--set-aside", m.aside, &mk.SetAside}, {"--salt", m.salt, &mk.SaltMass}} {
		if *x.to, _, err = maybe(x.flag, x.value, parseBulk); err != nil {
			return mk, v, err
		}
	}
	c := v.Composition
	mk.Start = wheel.Composition{Moisture: c.Moisture, MoistureSD: c.MoistureSD, Fat: c.Fat, FatSD: 0.01, Salt: c.Salt, SaltSD: 0.002, PH: c.PH}
	if m.ph != 0 {
		if m.ph < 3.5 || m.ph > 8 {
			return mk, v, at("--ph", fmt.Errorf("a pH of %.4g is out of range; give 3.5 to 8", m.ph))
		}
		mk.Start.PH = m.ph
	}
	if m.moisture != "" {
		mk.Start.MoistureSD, mk.Start.Measured = wheel.LabSD, true
	}
	for _, x := range []struct {
		flag, value string
		to          *quantity.Fraction
	}{{"--milk-fat", m.milkFat, &mk.Milk.Fat}, {"--milk-protein", m.protein, &mk.Milk.Protein}, {"--salt-rate", m.saltRate, &mk.SaltRate},
		{"--moisture", m.moisture, &mk.Start.Moisture}, {"--moisture-sd", m.moistureSD, &mk.Start.MoistureSD}, {"--fat", m.fat, &mk.Start.Fat}, {"--cheese-salt", m.cheeseSalt, &mk.Start.Salt}} {
		p, ok, err := maybe(x.flag, x.value, quantity.ParsePercent)
		if err != nil {
			return mk, v, err
		}
		if ok {
			*x.to = p
		}
	}
	if mk.SaltRate > 0 && mk.SaltMass == 0 {
		mk.SaltMass = wheel.SaltFor(mk.Curd-mk.SetAside, mk.SaltRate)
	}
	return mk, v, mk.Check()
}

// parseBulk reads the weight of a vat's worth of curd or salt, which may be
// heavier than any wheel.
func parseBulk(w string) (quantity.Grams, error) {
	if g, err := quantity.ParseWeight(w); err == nil {
		return g, nil
	}
	if kg, ok := strings.CutSuffix(strings.ToLower(strings.ReplaceAll(w, " ", "")), "kg"); ok {
		if x, err := strconv.ParseFloat(kg, 64); err == nil && x > 0 && x <= 1e5 {
			return quantity.Grams(x * 1000), nil
		}
	}
	_, err := quantity.ParseWeight(w)
	return 0, err
}

func (s *session) wheelsOf(m *makeFlags, mk wheel.Make, v variety.Variety, n int, weights []quantity.Grams, since time.Time) ([]wheel.Wheel, error) {
	in := s.Figures()
	given, err := m.shape.Given(in), in.Err
	if err != nil {
		return nil, err
	}
	plan := m.plan
	if plan == "" {
		plan = v.Plan
	}
	p, err := s.tx.Plan(plan)
	if err != nil {
		return nil, at("--plan", err)
	}
	var place cave.Place
	if m.place != "" {
		if place, err = cave.ParsePlace(m.place); err != nil {
			return nil, at("--place", usageError{Msg: err.Error()})
		}
		if place, err = s.placeIn(place); err != nil {
			return nil, at("--place", err)
		}
	}
	var out []wheel.Wheel
	for i := 1; i <= n; i++ {
		id, err := s.recordID()
		if err != nil {
			return nil, err
		}
		sh := given
		if !sh.Known() {
			sh = usualShape(v, weights, i-1)
		}
		out = append(out, wheel.Wheel{ID: id, Make: mk.ID, Number: i, Tag: wheel.DefaultTag(mk.Lot, i, n), Place: place, Plan: p.Name, Shape: sh, Since: since, Written: s.now, By: s.who})
	}
	return out, nil
}

func usualShape(v variety.Variety, weights []quantity.Grams, i int) shape.Shape {
	if i < len(weights) {
		return v.Shape.ForWeight(weights[i], shape.CheeseDensity)
	}
	return v.Shape
}

// placeIn writes a place with its room's name as the book has it.
func (s *session) placeIn(p cave.Place) (cave.Place, error) {
	r, err := s.tx.Room(p.Room())
	if err != nil {
		rooms, rerr := s.tx.Rooms()
		if rerr == nil && len(rooms) == 0 {
			return p, hint(err, "the book has no rooms yet; write one down first: rindkeep room new %s --temp 12C --rh 85%%", safeWord(p.Room()))
		}
		return p, err
	}
	return cave.Place(r.Name + strings.TrimPrefix(string(p), p.Room())), nil
}
