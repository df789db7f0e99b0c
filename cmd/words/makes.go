package words

import (
	"cmp"
	"fmt"
	"strings"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/text"
	"rindkeep/wheel"
)

// The sentences about makes and their logs.
func init() {
	learn(
		form[makes.WeightsCount]("{Weights} weights for {Wheels wheel}; give one for each, or one for all"),
		say(func(_ Printer, r makes.Overfull) string {
			return fmt.Sprintf("%s has room for %d and would hold %d: %d over capacity", r.Place, r.Fits, r.Here+r.Come,
				r.Here+r.Come-r.Fits)
		}),
		say(func(p Printer, r makes.PutThere) string { return p.Sentence(makes.Overfull(r)) + ". Put them there?" }),
		form[makes.NotThatDay]("the make is of {Made} and can't have begun on {Start}"),
		form[makes.RoomFirst]("[the book has no rooms yet; start with one: rindkeep room new {Room} --temp 12C "+
			"--rh 85%|the book has no rooms yet; start with one]"),
		say(func(_ Printer, r makes.MoreMoulds) string {
			tags := strings.Fields(r.Tags)
			return fmt.Sprintf("lot %s has %s not weighed yet, %s, and %s given", r.Lot, text.Count(len(tags), "wheel"),
				text.Tags(tags), text.Count(r.Weights, "weight is", "weights are"))
		}),
		form[makes.WeighSome]("[weigh some of them with rindkeep weigh {First} WEIGHT; one that was never made: "+
			"rindkeep wheel void {Last} --why TEXT|weigh some of them one by one]"),
		form[makes.InTheBook]("[--plan|a plan] and measures are for wheels new to the book, and {Tags:tags} is there "+
			"already[; another plan: rindkeep wheel plan]"),
	)
	flats(map[reason.Flat]string{
		makes.NotALot:        "that isn't a lot code",
		makes.NeedsTimeOfDay: "[--start|the start] needs a time of day; write it like 8:30",
		makes.MilkIntoVat:    "log milk with the time it went into the vat; say when it came with [--note|a note]",
	})
}

// The refusals of a line of a make's log.
func init() {
	learn(
		form[makes.SaltMissing]("[--weight is missing: the salt that was added|the weight of the salt is missing]"),
		form[makes.WeighSalt]("{Rate:%.2f} % of {Curd:bulk} of curd is {Computed:salt}; weigh it out, then record it"+
			"[ with --weight]").
			without("Computed", "weigh the curd and the dose is worked out[: rindkeep make log {Lot} curd --weight W]"),
		form[makes.IntoItself]("curd of lot {Lot} can't be set aside into itself"),
		form[makes.IntoEarlier]("lot {Lot} was made {Made}, before lot {From}: no curd of the one can be in the other"),
		form[makes.MakeFirst]("save that make first[: rindkeep make new --lot {Lot} --variety NAME]"),
	)
}

// OutOfPress says what a lot's wheels weighed out of the press, and the yield.
func (p Printer) OutOfPress(o makes.Output) string {
	all := fmt.Sprintf("%s of the lot weigh %s out of the press", text.Count(o.Weighed, "wheel"), p.Bulk(o.Total))
	if y := p.Yield(o); y != "" {
		all += "; " + y
	}
	return all
}

// Yield says the yield in a sentence, "" where it can't be known.
func (p Printer) Yield(o makes.Output) string {
	y, ok := o.Compared()
	if !ok {
		return ""
	}
	of := p.Bulk(y.Milk) + " of milk"
	if y.Kept < 1 {
		of += fmt.Sprintf(" (the %.0f %% whose curd was kept)", y.Kept.Percent())
	}
	if y.Got > 0 {
		return fmt.Sprintf("%s from %s, %.1f %% of it; Van Slyke expects %s for cheddar: %.0f %% of that", p.Bulk(y.Got), of,
			y.OfMilk.Percent(), p.Bulk(y.Expected), y.Of.Percent())
	}
	want := fmt.Sprintf("Van Slyke expects %s of cheddar from %s", p.Bulk(y.Expected), of)
	if o.Weighed > 0 {
		want += fmt.Sprintf("; %d of %d wheels weighed so far", o.Weighed, o.Wheels)
	}
	return want
}

// MakeFacts are what is known of a make as a whole, name and value.
func (p Printer) MakeFacts(d makes.Shown) [][2]string {
	var out [][2]string
	row := func(name, value string) {
		if value != "" {
			out = append(out, [2]string{name, value})
		}
	}
	m := d.Told
	if b := d.Sheet.Make.Began; !b.IsZero() {
		row("began", b.In(d.Zone).Format("15:04"))
	}
	row("sold as", text.Safe(d.Sheet.Make.SoldAs))
	row("follows the law of", strings.Join(d.Make.Countries, ", "))
	row("milk", p.milk(m.Milk, d.Borrowed))
	var from, into []string
	for _, l := range d.Sheet.Lines {
		switch x := l.Log; {
		case x.FromLot != "":
			from = append(from, p.Bulk(x.Weight)+" of lot "+x.FromLot)
		case x.ToLot != "":
			into = append(into, p.Bulk(x.Weight)+" into lot "+x.ToLot)
		}
	}
	row("curd came from", strings.Join(from, ", "))
	if m.Curd > 0 {
		row("curd", p.Bulk(m.Curd))
	}
	if m.SetAside > 0 {
		aside := strings.TrimSuffix(p.Bulk(m.SetAside)+" for "+m.SetAsideFor, " for ")
		row("set aside", strings.TrimSuffix(aside+"; "+strings.Join(into, ", "), "; "))
	}
	if m.SaltMass > 0 {
		row("salt", p.salt(m.SaltMass, m.SaltWhere)+p.dose(d.Sheet.Dose()))
	}
	row("yield", p.Yield(d.Output))
	start := "usual for the variety"
	if m.Start.Measured {
		start = "measured"
	}
	row("as drying starts", fmt.Sprintf("moisture %.1f %% (sd %.1f), fat %.1f %%, salt %.2f %%; %s",
		m.Start.Moisture.Percent(), m.Start.MoistureSD.Percent(), m.Start.Fat.Percent(), m.Start.Salt.Percent(), start))
	for _, t := range d.Samples {
		row("test", p.LabTestOpen(t))
	}
	for _, x := range d.Received {
		row("came", cmp.Or(p.Arrival(x.Arrival), p.takenOver(x.Arrival))+": "+text.Tags(x.Wheels))
	}
	row("wheels", p.wheelsOf(d))
	row("note", m.Note)
	row("written", fmt.Sprintf("%s by %s", m.Written.In(d.Zone).Format("2006-01-02 15:04"), m.By))
	for _, s := range d.Corrections {
		row(map[bool]string{false: "corrected", true: "removed"}[s.Removed], p.Corrected(s)+p.typed(" ["+s.Mark+"]", ""))
	}
	return out
}

// wheelsOf says how many wheels a make had, and which are here.
func (p Printer) wheelsOf(d makes.Shown) string {
	if d.Make.Removed {
		var tags []string
		for _, w := range d.Wheels {
			tags = append(tags, w.Tag)
		}
		return strings.TrimSuffix("removed with it: "+p.Tags(tags), ": ")
	}
	came, how := 0, "taken over"
	for _, x := range d.Received {
		if came += len(x.Wheels); x.Supplier != "" {
			how = "received"
		}
	}
	made := fmt.Sprintf("%d made", d.Output.Wheels)
	if came > 0 {
		made = fmt.Sprintf("%d made here, %d %s", max(0, d.Output.Wheels-came), came, how)
	}
	if came >= d.Output.Wheels && came > 0 {
		made = fmt.Sprintf("%d %s", d.Output.Wheels, how)
	}
	here := d.Here()
	return strings.TrimSuffix(fmt.Sprintf("%s, %d here: %s", made, len(here), p.Tags(here)), ": ")
}

func (p Printer) milk(m wheel.Milk, borrowed bool) string {
	milk := strings.TrimSpace(string(m.Treatment) + " " + m.Species)
	if m.Litres > 0 {
		milk = strings.TrimSpace(p.Units.Volume(m.Litres) + " " + milk)
	}
	if m.Fat > 0 {
		milk += fmt.Sprintf(", fat %.2f %%", m.Fat.Percent())
	}
	if m.Protein > 0 {
		milk += fmt.Sprintf(", protein %.2f %%", m.Protein.Percent())
	}
	if borrowed && milk != "" {
		milk += ", as that of the lots its curd came from"
	}
	return milk
}

func (p Printer) salt(g quantity.Grams, where string) string {
	return strings.TrimSpace(p.Salt(g) + " " + saltWhere[strings.ToLower(where)])
}

// dose sets the dose computed beside the one that was given.
func (p Printer) dose(d wheel.Dose) string {
	if d.Computed > 0 {
		w := fmt.Sprintf("; computed %s (%.2f %% of %s of curd)", p.Salt(d.Computed), d.Rate.Percent(), p.Bulk(d.Curd))
		switch over := d.Over(); {
		case over >= 0.05:
			w += ", " + p.Salt(over) + " over"
		case over <= -0.05:
			w += ", " + p.Salt(-over) + " under"
		}
		return w
	}
	if r := d.GivenRate(); r > 0 {
		return fmt.Sprintf("; %.2f %% of %s of curd", r.Percent(), p.Bulk(d.Curd))
	}
	return ""
}

// MakeLine says a line of a make's log, with the sums that follow from the lines
// before it.
func (p Printer) MakeLine(l makes.Line) string {
	switch l.Log.What {
	case wheel.LogSalt:
		return p.LogLine(l.Log) + p.dose(l.Dose)
	case wheel.LogPress:
		w := p.Bulk(l.Press.Load)
		if l.Press.Lever != 1 {
			w += fmt.Sprintf(" x %.4g by the lever", l.Press.Lever)
		}
		if on := l.Press.Pressure(); on > 0 {
			w += fmt.Sprintf(", %.1f kPa on the cheese (%.3f kg/cm2, %.2f psi)", on.In(quantity.KilopascalPa),
				on.In(quantity.KilogramPerCm2), on.In(quantity.PoundPerInch2))
		}
		if l.Log.Turned {
			w = "turned and redressed; " + w
		}
		return w
	}
	return p.LogLine(l.Log)
}

// LogLine says a line of a make's log by itself.
func (p Printer) LogLine(m wheel.MakeLog) string {
	var w []string
	add := func(ok bool, format string, v ...any) {
		if ok {
			w = append(w, fmt.Sprintf(format, v...))
		}
	}
	switch m.What {
	case wheel.LogMilk:
		add(true, "%s", strings.Join(strings.Fields(p.Units.Volume(m.Litres)+" "+string(m.Treatment)+" "+m.Species), " "))
		add(m.Source != "", "from %s", m.Source)
		add(m.Lot != "", "lot %s", m.Lot)
		add(m.HeatFor > 0, "%s for %s", p.Temp(m.HeatTemp), heldFor(m.HeatFor))
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
			add(true, "%s", p.Temp(quantity.Celsius(*m.Temp)))
		}
	case wheel.LogComposition:
		w = composed(m)
	default:
		w = p.weights(m)
	}
	add(m.Stage != "", "%s", m.Stage)
	return strings.Join(w, ", ")
}

// weights says what a line weighs.
func (p Printer) weights(m wheel.MakeLog) []string {
	var w []string
	switch m.What {
	case wheel.LogCurd:
		w = append(w, p.Bulk(m.Weight))
	case wheel.LogSetAside:
		w = append(w, strings.TrimSuffix(p.Bulk(m.Weight)+" for "+m.For, " for "), leading("into lot", m.ToLot))
	case wheel.LogFrom:
		w = append(w, p.Bulk(m.Weight)+" of curd from lot "+m.FromLot, leading("for", m.For))
	case wheel.LogSalt:
		w = append(w, p.salt(m.Weight, m.Where))
	case wheel.LogPress:
		w = append(w, p.Bulk(m.Load))
		if m.Lever > 0 {
			w = append(w, fmt.Sprintf("lever %.4g", m.Lever))
		}
		if m.Diameter > 0 {
			w = append(w, "mould "+p.Units.Length(m.Diameter))
		}
		if m.Turned {
			w = append(w, "turned")
		}
	}
	if n := len(w); n > 0 && w[n-1] == "" {
		w = w[:n-1]
	}
	return w
}

// composed says what a measured composition holds.
func composed(m wheel.MakeLog) []string {
	var w []string
	if m.Moisture > 0 {
		moisture := fmt.Sprintf("moisture %.1f %%", m.Moisture.Percent())
		if m.SD > 0 {
			moisture += fmt.Sprintf(" (sd %.2g)", m.SD.Percent())
		}
		w = append(w, moisture)
	}
	if m.Fat > 0 {
		w = append(w, fmt.Sprintf("fat %.1f %%", m.Fat.Percent()))
	}
	if m.Salt > 0 {
		w = append(w, fmt.Sprintf("salt %.2f %%", m.Salt.Percent()))
	}
	if m.PH > 0 {
		w = append(w, fmt.Sprintf("pH %.2f", m.PH))
	}
	return w
}

func heldFor(seconds float64) string {
	if seconds >= 60 {
		return fmt.Sprintf("%.4g min", seconds/60)
	}
	return fmt.Sprintf("%.4g s", seconds)
}

// MakeEvent is a line of a make's log, or a note of it: what it is, and its words.
func (p Printer) MakeEvent(e makes.Event) (what, words string) {
	note := text.Safe(e.Entry.Note)
	if e.Line == nil && e.Entry.Kind == wheel.Noted {
		return "note", note
	}
	if what = e.Entry.Word(); e.Line == nil {
		words = text.Safe(p.EntryDetail(e.Entry))
	} else {
		what, words = e.Line.What, p.MakeLine(*e.Line)
	}
	if note != "" {
		words = strings.TrimPrefix(words+"; "+note, "; ")
	}
	return what, words
}

// DaysAgo is "today", "1 day ago".
func DaysAgo(n int) string {
	if n == 0 {
		return "today"
	}
	return text.Count(n, "day") + " ago"
}
