package page

import (
	"strings"

	"rindkeep/cave"
	"rindkeep/cmd/app/sites"
	"rindkeep/cmd/app/wheels"
	"rindkeep/cmd/words"
	"rindkeep/store/disagree"
	"rindkeep/wheel"
)

// The sites that share the book: how far each is, what is on the way, what they disagree about.

func listSites(c *call) (any, error) {
	l, err := sites.List(c.ctx, c.app, c.caller)
	return filled(l, err, c.words().FillSites)
}

func saveReceived(c *call, v values) (any, error) {
	q := wheels.NewPlace{What: v.list("wheels"), Place: v.text("place"), Note: v.text("note"), Sure: v.truth("sure")}
	return record(c, nil, wheels.Receive, q, c.words().FillRecorded)
}

func saveSettled(c *call, v values) (any, error) {
	q := sites.SettleQuery{Code: v.text("code"), Other: v.truth("other"), Why: v.text("why"), Sure: v.truth("sure")}
	return record(c, nil, sites.Settle, q, c.words().FillSettled)
}

// sharing is the list of sites as the book has it; what exchanges since did may be missing.
func sharing(c *call) (sites.Listed, error) {
	return kept(c, "sites", func() (sites.Listed, error) { return sites.List(c.ctx, c.app, c.caller) })
}

// waits says what waits for somebody here; the page goes on without it.
func waits(c *call) string {
	l, _ := inTurn(c, sharing)
	return words.Waiting(l)
}

// otherSites are the other sites as a wheel can be moved there.
func otherSites(c *call) (out []string) {
	if !c.s.shared() {
		return nil
	}
	l, _ := sharing(c)
	for _, m := range l.Sites {
		if !m.Own && m.State == sites.Joined {
			out = append(out, m.Name+":")
		}
	}
	return out
}

// load is wheels that were sent together.
type load struct {
	From, To, Since, Ago string
	Tags                 []string
}

// siteHere is a site as its page shows it.
type siteHere struct {
	sites.Member
	Ago string // since its newest change
}

// wayHere is a way as the page shows it.
type wayHere struct {
	sites.Way
	Ago string // since the oldest change that waits to be sent
}

// choice is one way to settle a disagreement: a form with a button.
type choice struct {
	Button, Act, Said string
	Fields            [][2]string
	Other             bool // the record that doesn't count comes to
	Tag               bool // a new tag is asked for
	Why               bool // and a reason, if safety holds end with it
}

// toSettle is a disagreement as its page shows it.
type toSettle struct {
	sites.Disagreement
	Title   string
	Wheels  []string // with a page
	Claim   bool     // receiving the wheel under its whole name settles it
	Choices []choice
}

type sitesBody struct {
	sites.Listed
	Sharing     int // sites that take part
	Settle      []toSettle
	Here, Other []load // on the way
	Members     []siteHere
	Ways        []wayHere
	Places      []string
}

func sitesPage(c *call) (View, error) {
	l, err := sites.List(c.ctx, c.app, c.caller)
	if err != nil {
		return View{}, err
	}
	p, now := c.words(), c.s.opt.Now()
	p.FillSites(&l)
	b := sitesBody{Listed: l, Places: places(c)}
	for _, d := range l.Disagreements {
		b.Settle = append(b.Settle, settling(p, d))
	}
	for _, t := range l.OnTheWay {
		to := &b.Other
		if t.Here {
			to = &b.Here
		}
		next := load{From: cave.Place(t.From).Room(), To: t.To, Since: t.Since, Ago: words.Since(&t.Since, now)}
		n := len(*to)
		if n == 0 || (*to)[n-1].From != next.From || (*to)[n-1].To != next.To || (*to)[n-1].Since != next.Since {
			*to = append(*to, next)
			n++
		}
		(*to)[n-1].Tags = append((*to)[n-1].Tags, t.Wheel)
	}
	for _, m := range l.Sites {
		if m.State == sites.Joined {
			b.Sharing++
		}
		b.Members = append(b.Members, siteHere{m, words.Since(m.Newest, now)})
	}
	for _, w := range l.Via {
		b.Ways = append(b.Ways, wayHere{w, words.Since(w.Since, now)})
	}
	return View{Template: "sites.html", Title: "Sites", Here: "sites", Body: b}, nil
}

// settling lists the ways in which a disagreement can be settled.
func settling(p words.Printer, d sites.Disagreement) toSettle {
	t := toSettle{Disagreement: d, Title: strings.ToUpper(d.Thing[:1]) + d.Thing[1:] + " " + d.Name}
	keep := func(button string) choice {
		return choice{Button: button, Act: "sites-settle", Said: "settled", Fields: [][2]string{{"code", d.Code}}}
	}
	cancel := func(e wheel.Entry, s *sites.Side) {
		if s != nil && s.Entry != nil {
			t.Choices = append(t.Choices, choice{Button: "Cancel: " + p.EntryAt(e, s), Act: "strike", Said: "cancelled",
				Fields: [][2]string{{"entry", e.ID.String()}, {"why", "two sites recorded what can’t both be so"}}})
		}
	}
	retag := func() {
		t.Wheels = []string{d.Of.Stands.Name, d.Of.Other.Name}
		t.Choices = append(t.Choices, choice{Button: "Change the tag", Act: "tag", Said: "tagged", Tag: true,
			Fields: [][2]string{{"wheel", d.Of.Other.Name}}}, keep("Leave both tags"))
	}
	switch d.Of.Kind {
	case disagree.Replaced:
		other := keep("Take " + siteOf(d.Other) + " instead")
		_, text := d.Of.Text()
		other.Other, other.Why = true, text
		t.Choices = []choice{keep("Keep " + siteOf(d.Stands)), other}
	case disagree.SameTag:
		retag()
	case disagree.SameName:
		if d.Thing == "wheel" {
			retag()
			break
		}
		t.Choices = []choice{keep("Leave both codes")}
	case disagree.ClaimUnknown, disagree.ClaimUnclear:
		t.Claim, t.Choices = true, []choice{keep("Forget it")}
	case disagree.ClockAhead:
		t.Choices = []choice{keep("The clock is right now")}
	case disagree.ForkSeen, disagree.OlderCopy:
		t.Choices = []choice{keep("It’s been seen to")}
	case disagree.SameIdentity:
		t.Choices = []choice{keep("Keep it so")}
	default: // a clash
		t.Wheels = []string{d.Name}
		if d.Of.Kind != disagree.Kind(wheel.NeverSent) {
			cancel(d.Of.Other.Entry, d.Other)
		}
		cancel(d.Of.Stands.Entry, d.Stands)
		t.Choices = append(t.Choices, keep("Leave it so"))
	}
	return t
}

// siteOf is whose record a side is.
func siteOf(s *sites.Side) string {
	if s == nil || s.Site == nil {
		return "this one"
	}
	return *s.Site + "’s"
}
