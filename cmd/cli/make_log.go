package cli

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/wheel"
)

// lineFlags are what make log was told.
type lineFlags struct {
	source, species, litres, treatment, heat, heatFor, fat, protein, lot string
	kind, name, supplier, amount                                         string
	ph                                                                   float64
	acid, stage, temp, weight, use, into, rate, where                    string
	load, lever, diameter                                                string
	turned                                                               bool
	moisture, sd, salt                                                   string
	note                                                                 string
}

// logTakes are the flags each kind of line takes.
var logTakes = map[wheel.LogWhat][]string{
	wheel.LogMilk:       {"source", "species", "litres", "treatment", "heat", "heat-for", "fat", "protein", "lot"},
	wheel.LogIngredient: {"kind", "name", "lot", "supplier", "amount", "stage"},
	wheel.LogAcidity:    {"ph", "acid", "stage"},
	wheel.LogTemp:       {"temp", "stage"},
	wheel.LogCurd:       {"weight", "stage"},
	wheel.LogSetAside:   {"weight", "for", "into"},
	wheel.LogSalt:       {"weight", "rate", "where"},
	wheel.LogPress:      {"load", "lever", "diameter", "turned"},
	wheel.LogStep:       {"stage"},

	wheel.LogComposition: {"moisture", "sd", "fat", "salt", "ph", "stage"},
}

// written are the kinds of line a person writes.
func written() []string {
	var out []string
	for _, w := range wheel.LogWhats {
		if logTakes[w] != nil {
			out = append(out, string(w))
		}
	}
	return out
}

func (a *app) makeLogCmd() *cobra.Command {
	var l lineFlags
	c := a.cmd("log LOT WHAT", "Write a line of a make's log, as it happens or with --at", `
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
rindkeep make log 261120A composition --moisture 37.2% --fat 32.5% --salt 1.7% --ph 5.25`, exactly("LOT", "WHAT"), func(cmd *cobra.Command, args []string) error {
		m, err := l.line(cmd, args[1])
		if err != nil {
			return err
		}
		return a.update(func(s *session) error { return s.makeLog(args[0], m, l.note) })
	})
	f := c.Flags()
	f.StringVar(&l.litres, "litres", "", "milk: `VOLUME`")
	f.StringVar(&l.source, "source", "", "milk: whose, a `NAME`")
	f.StringVar(&l.species, "species", "", "milk: `SPECIES`: cow, goat, sheep, buffalo")
	f.StringVar(&l.treatment, "treatment", "", "milk: `raw|thermised|pasteurised`")
	f.StringVar(&l.heat, "heat", "", "milk: `TEMP` it was heated to")
	f.StringVar(&l.heatFor, "heat-for", "", "milk: `TIME` it was held there: 15s, 30min")
	f.StringVar(&l.fat, "fat", "", "milk, composition: `PERCENT` fat")
	f.StringVar(&l.protein, "protein", "", "milk: `PERCENT` protein")
	f.StringVar(&l.lot, "lot", "", "milk, ingredient: its lot `NUMBER`")
	f.StringVar(&l.kind, "kind", "", "ingredient: `KIND`: culture, rennet, salt, colour, calcium, other")
	f.StringVar(&l.name, "name", "", "ingredient: its `NAME`")
	f.StringVar(&l.supplier, "supplier", "", "ingredient: who supplied it, a `NAME`")
	f.StringVar(&l.amount, "amount", "", "ingredient: `AMOUNT` as measured: \"4 ml\"")
	f.Float64Var(&l.ph, "ph", 0, "acidity, composition: `PH`")
	f.StringVar(&l.acid, "acid", "", "acidity: titratable, `PERCENT` lactic acid (1 degree Dornic is 0.01 %)")
	f.StringVar(&l.temp, "temp", "", "temp: `TEMP`")
	f.StringVar(&l.stage, "stage", "", "acidity, temp, step and others: at which stage, in your `WORDS`")
	f.StringVar(&l.weight, "weight", "", "curd, set-aside, salt: `WEIGHT`")
	f.StringVar(&l.use, "for", "", "set-aside: what for, a `TEXT`")
	f.StringVar(&l.into, "into", "", "set-aside: the `LOT` it went into, written down before")
	f.StringVar(&l.rate, "rate", "", "salt: the rate wanted, a `PERCENT` of the curd")
	f.StringVar(&l.where, "where", "", "salt: `curd|brine|rub`")
	f.StringVar(&l.load, "load", "", "press: `WEIGHT` on the press")
	f.StringVar(&l.lever, "lever", "", "press: `RATIO` of the lever (as the line before, or 1)")
	f.StringVar(&l.diameter, "diameter", "", "press: `LENGTH` across the mould (as the line before)")
	f.BoolVar(&l.turned, "turned", false, "press: turned and redressed before")
	f.StringVar(&l.moisture, "moisture", "", "composition, as drying starts: measured `PERCENT` moisture")
	f.StringVar(&l.sd, "sd", "", "composition: standard deviation of the moisture, `PERCENT` (0.5 %)")
	f.StringVar(&l.salt, "salt", "", "composition: measured `PERCENT` salt")
	f.StringVar(&l.note, "note", "", "a `TEXT` to keep with it")
	f.SortFlags = false
	a.completes(c, "into", (*session).lotNames)
	a.completes(c, "treatment", func(*session) []string {
		return []string{string(wheel.Raw), string(wheel.Thermised), string(wheel.Pasteurised)}
	})
	a.completes(c, "where", func(*session) []string { return []string{"curd", "brine", "rub"} })
	a.completes(c, "kind", func(*session) []string {
		return []string{"culture", "rennet", "salt", "colour", "calcium", "other"}
	})
	return a.completesArgs(c, func(s *session, nth int, _ string) []string {
		switch nth {
		case 0:
			return s.lotNames()
		case 1:
			return written()
		}
		return nil
	})
}

// line reads the flags of one kind of line and refuses those of another.
func (l *lineFlags) line(cmd *cobra.Command, word string) (wheel.MakeLog, error) {
	m := wheel.MakeLog{What: wheel.LogWhat(strings.ToLower(strings.TrimSpace(word)))}
	takes := logTakes[m.What]
	if kinds := []string{"culture", "rennet", "colour", "calcium"}; slices.Contains(kinds, string(m.What)) {
		return m, at("WHAT", hint(usagef("no line %q in a make's log: it is an ingredient", safeWord(word)), "give it like: rindkeep make log LOT ingredient --kind %s --name NAME --lot NUMBER", m.What))
	}
	if takes == nil {
		return m, at("WHAT", usagef("no line %q in a make's log; give %s", safeWord(word), strings.Join(written(), ", ")))
	}
	var stray string
	cmd.Flags().Visit(func(f *pflag.Flag) {
		if cmd.InheritedFlags().Lookup(f.Name) == nil && f.Name != "note" && !slices.Contains(takes, f.Name) && stray == "" {
			stray = f.Name
		}
	})
	if stray != "" {
		return m, usagef("--%s is not for %s, which takes --%s and --note", stray, m.What, strings.Join(takes, ", --"))
	}
	m.Stage, m.Name, m.Kind, m.Lot = l.stage, l.name, strings.ToLower(l.kind), l.lot
	m.Source, m.Species, m.Amount = l.source+l.supplier, strings.ToLower(l.species), l.amount
	m.Where, m.For, m.ToLot, m.PH, m.Turned = strings.ToLower(l.where), l.use, l.into, l.ph, l.turned
	var err error
	if m.What == wheel.LogSalt && m.Where == "" {
		m.Where = "curd"
	}
	if m.What == wheel.LogSalt && !slices.Contains([]string{"curd", "brine", "rub"}, m.Where) {
		return m, at("--where", usagef("no place %q for salt; give curd, brine or rub", safeWord(l.where)))
	}
	if m.Litres, _, err = maybe("--litres", l.litres, quantity.ParseVolume); err != nil {
		return m, err
	}
	if m.Treatment, _, err = maybe("--treatment", l.treatment, wheel.ParseTreatment); err != nil {
		return m, err
	}
	if m.HeatTemp, _, err = maybe("--heat", l.heat, quantity.ParseTemp); err != nil {
		return m, err
	}
	if m.HeatFor, _, err = maybe("--heat-for", l.heatFor, parseSeconds); err != nil {
		return m, err
	}
	for _, x := range []struct {
		flag, value string
		to          *quantity.Fraction
	}{{"--fat", l.fat, &m.Fat}, {"--protein", l.protein, &m.Protein}, {"--acid", l.acid, &m.Acid}, {"--rate", l.rate, &m.Rate}, {"--moisture", l.moisture, &m.Moisture}, {"--sd", l.sd, &m.SD}, {"--salt", l.salt, &m.Salt}} {
		if *x.to, _, err = maybe(x.flag, x.value, quantity.ParsePercent); err != nil {
			return m, err
		}
	}
	for _, x := range []struct {
		flag, value string
		to          *quantity.Grams
	}{{"--weight", l.weight, &m.Weight}, {"--load", l.load, &m.Load}} {
		if *x.to, _, err = maybe(x.flag, x.value, quantity.ParseBulk); err != nil {
			return m, err
		}
	}
	if m.Lever, _, err = maybe("--lever", l.lever, quantity.ParseRatio); err != nil {
		return m, err
	}
	if m.Diameter, _, err = maybe("--diameter", l.diameter, quantity.ParseLength); err != nil {
		return m, err
	}
	t, ok, err := maybe("--temp", l.temp, quantity.ParseTemp)
	if err != nil {
		return m, err
	}
	if ok {
		x := float64(t)
		m.Temp = &x
	}
	if m.What == wheel.LogSalt && m.Weight == 0 && m.Rate > 0 {
		return m, nil // refused later, with the dose it would be
	}
	if err := m.Check(); err != nil {
		return m, hint(usageError{Msg: err.Error()}, "%s takes --%s and --note", m.What, strings.Join(takes, ", --"))
	}
	return m, nil
}

// parseSeconds reads how long: 15s, 30min, 1.5h; a bare number is seconds.
func parseSeconds(s string) (float64, error) {
	w := strings.ToLower(strings.ReplaceAll(strings.TrimSpace(s), " ", ""))
	w = strings.Replace(w, "min", "m", 1)
	if w != "" && w[len(w)-1] >= '0' && w[len(w)-1] <= '9' {
		w += "s"
	}
	d, err := time.ParseDuration(w)
	if err != nil {
		return 0, fmt.Errorf("%q is not a time; write 15s or 30min", safeWord(s))
	}
	if d <= 0 || d > 24*time.Hour {
		return 0, fmt.Errorf("time %q is out of range; a bare number is seconds", safeWord(s))
	}
	return d.Seconds(), nil
}

func (s *session) makeLog(lot string, m wheel.MakeLog, note string) error {
	mk, err := s.lot(lot)
	if err != nil {
		return err
	}
	when, _, err := s.moment()
	if err != nil {
		return err
	}
	if m.What == wheel.LogSalt && m.Weight == 0 {
		return s.saltMissing(mk, m, when)
	}
	var other wheel.Make
	if m.ToLot != "" {
		if other, err = s.intoLot(mk, m.ToLot); err != nil {
			return err
		}
		m.ToLot = other.Lot
	}
	entries := []wheel.Entry{s.entry(wheel.Entry{Subject: mk.ID, Kind: wheel.Logged, At: when, Note: note, Detail: m.Detail()})}
	if m.ToLot != "" {
		came := wheel.MakeLog{What: wheel.LogFrom, Weight: m.Weight, For: m.For, FromLot: mk.Lot}
		entries = append(entries, s.entry(wheel.Entry{Subject: other.ID, Kind: wheel.Logged, At: when, Note: note, Detail: came.Detail()}))
	}
	res, err := s.write.Put(entries...)
	if err != nil {
		if day.At(when, s.loc) < mk.Date && m.What == wheel.LogMilk {
			return hint(err, "milk is written down with the time it went into the vat; say when it came with --note")
		}
		return err
	}
	sheet, err := s.tx.MakeSheet(mk.ID)
	if err != nil {
		return err
	}
	if err := sheet.Check(); err != nil {
		return err
	}
	i := slices.IndexFunc(sheet.Lines, func(l wheel.MakeLine) bool { return l.Entry.Same(entries[0]) })
	if i < 0 {
		return fmt.Errorf("the line is not in the log of lot %s", mk.Lot)
	}
	if s.json {
		return s.document(struct {
			Schema string     `json:"schema"`
			Lot    string     `json:"lot"`
			Line   logLineDoc `json:"line"`
			Same   bool       `json:"no_change"`
		}{schema("make-log"), mk.Lot, s.logLineOf(sheet, i), res.Written == 0})
	}
	words := s.logWords(sheet, i)
	if res.Written == 0 {
		s.indented(fmt.Sprintf("no change, lot %s says so already: %s %s", mk.Lot, m.What, words))
		return nil
	}
	s.print("lot %s, %s, %s\n", mk.Lot, when.In(s.loc).Format("Mon 2 Jan 15:04"), m.What)
	s.indented(words)
	again := slices.ContainsFunc(sheet.Lines, func(l wheel.MakeLine) bool {
		return l.Log.Treatment == wheel.Raw && !l.Entry.Same(entries[0])
	})
	return s.logCautions(mk, m, other, again)
}

// logCautions are what is said beside a line where it matters; again where the
// log told of raw milk already.
func (s *session) logCautions(mk wheel.Make, m wheel.MakeLog, other wheel.Make, again bool) error {
	raw := m.Treatment == wheel.Raw && !again
	of := mk
	if m.ToLot != "" {
		milk, err := s.tx.MilkOf(other.ID)
		if err != nil {
			return err
		}
		raw, of = milk.Treatment == wheel.Raw, other
		s.print("lot %s says that it came from lot %s\n", other.Lot, mk.Lot)
	}
	if raw && !s.quiet {
		w, err := s.rawCautionOf(of)
		if err != nil {
			return err
		}
		s.caution(w)
	}
	if m.Treatment == wheel.Pasteurised && m.HeatFor > 0 && !m.Pasteurises() {
		s.caution("CAUTION: that is under the usual figures of pasteurising (63 C for 30 min, 72 C for 15 s). Check the record; your own law decides.")
	}
	if m.What == wheel.LogComposition {
		s.indented("as measured, it stands for the usual figures of the kind: curves, cards and verdicts of the lot's wheels are reckoned from it")
	}
	s.next("wrong? rindkeep strike last --why TEXT. The whole sheet: rindkeep make show %s", mk.Lot)
	return nil
}

// saltMissing refuses a salting without the dose that was given, and says what
// the rate comes to.
func (s *session) saltMissing(mk wheel.Make, m wheel.MakeLog, when time.Time) error {
	sheet, err := s.tx.MakeSheet(mk.ID)
	if err != nil {
		return err
	}
	d := sheet.DoseThen(when, m)
	missing := usagef("--weight is missing: the salt that was given")
	if d.Computed == 0 {
		return hint(missing, "with the curd weighed (make log %s curd --weight W) the dose is computed beside it", mk.Lot)
	}
	return hint(missing, "%.2f %% of %s of curd is %s; weigh it out, then record it with --weight", m.Rate.Percent(), bulk(s.units, d.Curd), saltWeight(s.units, d.Computed))
}

// intoLot is the lot that curd of another went into.
func (s *session) intoLot(mk wheel.Make, lot string) (wheel.Make, error) {
	other, err := s.lot(lot)
	if err != nil {
		if isNotFound(err) {
			return other, hint(at("--into", err), "write that make down first: rindkeep make new --lot %s --variety NAME", safeWord(lot))
		}
		return other, at("--into", err)
	}
	if other.ID == mk.ID {
		return other, at("--into", usagef("lot %s cannot be set aside into itself", mk.Lot))
	}
	if other.Date < mk.Date {
		return other, at("--into", fmt.Errorf("lot %s was made %s, before lot %s: no curd of the one can be in the other", other.Lot, other.Date, mk.Lot))
	}
	return other, nil
}

// logLineDoc is a line of a make's log in JSON.
type logLineDoc struct {
	Mark      string   `json:"mark"`
	At        string   `json:"at"`
	By        string   `json:"by"`
	What      string   `json:"what"`
	Stage     string   `json:"stage"`
	Source    string   `json:"source"`
	Name      string   `json:"name"`
	Kind      string   `json:"kind"`
	Lot       string   `json:"lot"`
	Species   string   `json:"species"`
	Litres    *float64 `json:"milk_l"`
	Treatment string   `json:"treatment"`
	HeatTemp  *float64 `json:"heat_temp_c"`
	HeatFor   *float64 `json:"heat_s"`
	Fat       *float64 `json:"fat_pct"`
	Protein   *float64 `json:"protein_pct"`
	Amount    string   `json:"amount"`
	PH        *float64 `json:"ph"`
	Acid      *float64 `json:"acid_pct"`
	Temp      *float64 `json:"temp_c"`
	Weight    *float64 `json:"weight_g"`
	Where     string   `json:"where"`
	Rate      *float64 `json:"rate_pct"`
	Curd      *float64 `json:"of_curd_g"`
	Computed  *float64 `json:"computed_g"`
	For       string   `json:"for"`
	ToLot     string   `json:"to_lot"`
	FromLot   string   `json:"from_lot"`
	Load      *float64 `json:"load_g"`
	Lever     *float64 `json:"lever_ratio"`
	Diameter  *float64 `json:"diameter_cm"`
	Pressure  *float64 `json:"pressure_kpa"`
	Turned    *bool    `json:"turned"`
	Moisture  *float64 `json:"moisture_pct"`
	SD        *float64 `json:"moisture_sd_pct"`
	Salt      *float64 `json:"salt_pct"`
	Note      string   `json:"note"`
}

// some is a figure for JSON, null where it was not said.
func some(x float64) *float64 {
	if x == 0 {
		return nil
	}
	return num(x)
}

func (s *session) logLineOf(sheet wheel.MakeSheet, i int) logLineDoc {
	e, m := sheet.Lines[i].Entry, sheet.Lines[i].Log
	d := logLineDoc{
		Mark: e.Mark(), At: instant(e.At, s.loc), By: e.By, What: string(m.What), Stage: m.Stage, Source: m.Source, Name: m.Name, Kind: m.Kind, Lot: m.Lot,
		Species: m.Species, Litres: some(float64(m.Litres)), Treatment: string(m.Treatment), HeatTemp: some(float64(m.HeatTemp)), HeatFor: some(m.HeatFor),
		Fat: some(m.Fat.Percent()), Protein: some(m.Protein.Percent()), Amount: m.Amount, PH: some(m.PH), Acid: some(m.Acid.Percent()), Weight: grams(m.Weight),
		Where: m.Where, Rate: some(m.Rate.Percent()), For: m.For, ToLot: m.ToLot, FromLot: m.FromLot, Load: grams(m.Load), Diameter: some(m.Diameter.Centimetres()),
		Moisture: some(m.Moisture.Percent()), SD: some(m.SD.Percent()), Salt: some(m.Salt.Percent()), Note: e.Note,
	}
	if m.Temp != nil {
		d.Temp = num(*m.Temp)
	}
	switch m.What {
	case wheel.LogSalt:
		dose := sheet.DoseAt(i)
		d.Curd, d.Computed = grams(dose.Curd), grams(dose.Computed)
	case wheel.LogPress:
		p := sheet.PressAt(i)
		d.Lever, d.Pressure, d.Turned = num(p.Lever), some(p.Pressure().In(quantity.KilopascalPa)), &m.Turned
	}
	return d
}

// logWords says a line of a make's log in words, with the sums that follow
// from the lines before it.
func (s *session) logWords(sheet wheel.MakeSheet, i int) string {
	m := sheet.Lines[i].Log
	switch m.What {
	case wheel.LogSalt:
		d := sheet.DoseAt(i)
		return s.lineWords(m) + s.doseWords(d)
	case wheel.LogPress:
		p := sheet.PressAt(i)
		w := bulk(s.units, p.Load)
		if p.Lever != 1 {
			w += fmt.Sprintf(" x %.4g by the lever", p.Lever)
		}
		if p.Face > 0 {
			w += fmt.Sprintf(", %.1f kPa on the cheese (%.3f kg/cm2, %.2f psi)", p.Pressure().In(quantity.KilopascalPa), p.Pressure().In(quantity.KilogramPerCm2), p.Pressure().In(quantity.PoundPerInch2))
		}
		if m.Turned {
			w = "turned and redressed; " + w
		}
		return w
	}
	return s.lineWords(m)
}

// doseWords sets the dose computed beside the one that was given.
func (s *session) doseWords(d wheel.Dose) string {
	if d.Computed > 0 {
		w := fmt.Sprintf("; computed %s (%.2f %% of %s of curd)", saltWeight(s.units, d.Computed), d.Rate.Percent(), bulk(s.units, d.Curd))
		switch over := d.Over(); {
		case over >= 0.05:
			w += ", " + saltWeight(s.units, over) + " over"
		case over <= -0.05:
			w += ", " + saltWeight(s.units, -over) + " under"
		}
		return w
	}
	if r := d.GivenRate(); r > 0 {
		return fmt.Sprintf("; %.2f %% of %s of curd", r.Percent(), bulk(s.units, d.Curd))
	}
	return ""
}

// doseDoc is a make's salting in JSON.
type doseDoc struct {
	Given    *float64 `json:"given_g"`
	Computed *float64 `json:"computed_g"`
	Curd     *float64 `json:"of_curd_g"`
	Rate     *float64 `json:"rate_pct"`
}

func doseDocOf(d wheel.Dose) doseDoc {
	return doseDoc{grams(d.Given), grams(d.Computed), grams(d.Curd), some(d.Rate.Percent())}
}

// lineWords says a line of a make's log by itself.
func (s *session) lineWords(m wheel.MakeLog) string {
	var w []string
	add := func(ok bool, format string, v ...any) {
		if ok {
			w = append(w, fmt.Sprintf(format, v...))
		}
	}
	switch m.What {
	case wheel.LogMilk:
		add(true, "%s", strings.Join(strings.Fields(s.units.Volume(m.Litres)+" "+string(m.Treatment)+" "+m.Species), " "))
		add(m.Source != "", "from %s", m.Source)
		add(m.Lot != "", "lot %s", m.Lot)
		add(m.HeatFor > 0, "%s for %s", s.units.Temp(m.HeatTemp), heldFor(m.HeatFor))
		add(m.Fat > 0, "fat %.2f %%", m.Fat.Percent())
		add(m.Protein > 0, "protein %.2f %%", m.Protein.Percent())
	case wheel.LogIngredient:
		add(true, "%s", strings.TrimSpace(m.Kind+" "+m.Name))
		add(m.Amount != "", "%s", m.Amount)
		add(m.Lot != "", "lot %s", m.Lot)
		add(m.Source != "", "from %s", m.Source)
	case wheel.LogAcidity:
		add(m.PH > 0, "pH %.2f", m.PH)
		add(m.Acid > 0, "titratable acidity %.3f %%", m.Acid.Percent())
	case wheel.LogTemp:
		if m.Temp != nil {
			add(true, "%s", s.units.Temp(quantity.Celsius(*m.Temp)))
		}
	case wheel.LogCurd:
		add(true, "%s", bulk(s.units, m.Weight))
	case wheel.LogSetAside:
		add(true, "%s", strings.TrimSuffix(bulk(s.units, m.Weight)+" for "+m.For, " for "))
		add(m.ToLot != "", "into lot %s", m.ToLot)
	case wheel.LogFrom:
		add(true, "%s of curd from lot %s", bulk(s.units, m.Weight), m.FromLot)
		add(m.For != "", "for %s", m.For)
	case wheel.LogSalt:
		on := map[string]string{"curd": " on the curd", "brine": " in the brine", "rub": " rubbed on"}[m.Where]
		add(true, "%s%s", saltWeight(s.units, m.Weight), on)
	case wheel.LogPress:
		add(true, "%s", bulk(s.units, m.Load))
		add(m.Lever > 0, "lever %.4g", m.Lever)
		add(m.Diameter > 0, "mould %s", s.units.Length(m.Diameter))
		add(m.Turned, "turned")
	case wheel.LogComposition:
		sd := ""
		if m.SD > 0 {
			sd = fmt.Sprintf(" (sd %.2g)", m.SD.Percent())
		}
		add(m.Moisture > 0, "moisture %.1f %%%s", m.Moisture.Percent(), sd)
		add(m.Fat > 0, "fat %.1f %%", m.Fat.Percent())
		add(m.Salt > 0, "salt %.2f %%", m.Salt.Percent())
		add(m.PH > 0, "pH %.2f", m.PH)
	}
	add(m.Stage != "", "%s", m.Stage)
	return strings.Join(w, ", ")
}

func heldFor(seconds float64) string {
	if seconds >= 60 {
		return fmt.Sprintf("%.4g min", (time.Duration(seconds * float64(time.Second))).Minutes())
	}
	return fmt.Sprintf("%.4g s", seconds)
}
