package cli

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/spf13/cobra"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/cmd/text"
	"rindkeep/store"
	"rindkeep/wheel"
	"rindkeep/wheel/holdrule"
	"rindkeep/wheel/verdict"
)

// lawCaution stands under every list of rules.
const lawCaution = "These rules are for information, as far as they were read or remembered, and no advice: check your own law."

func (a *app) lawCmd() *cobra.Command {
	names := func(s *session, _ int, _ string) []string {
		var out []string
		for _, r := range s.lawsOrBuiltin() {
			out = append(out, r.Name)
		}
		return out
	}
	return a.group("law", "Rules of food laws: days a cheese is held, words its label needs",
		a.lawListCmd(), a.completesArgs(a.lawShowCmd(), names), a.lawCheckCmd(), a.lawAddCmd(), a.lawFollowCmd())
}

func (s *session) lawsOrBuiltin() []holdrule.Rule {
	if s == nil || s.tx == nil {
		return holdrule.Builtin()
	}
	rs, err := s.tx.Laws()
	if err != nil {
		return nil
	}
	return rs
}

// lawDoc is a rule in JSON.
type lawDoc struct {
	Name      string   `json:"name"`
	Title     string   `json:"title"`
	Countries []string `json:"countries"`
	Varieties []string `json:"varieties"`
	Groups    []string `json:"groups"`
	Milk      []string `json:"milk"`
	Days      *int     `json:"days"`
	MinTemp   *float64 `json:"counts_from_temp_c"`
	From      string   `json:"count_from"`
	Label     string   `json:"label"`
	Source    string   `json:"source"`
	Read      string   `json:"read"`
	Own       bool     `json:"own"`
}

func lawDocOf(r holdrule.Rule, own bool) lawDoc {
	d := lawDoc{
		Name: r.Name, Title: r.Title, Countries: filled(r.Countries), Varieties: filled(r.Varieties), Groups: filled(r.Groups), Milk: []string{},
		From: r.From, Label: r.Label, Source: r.Cite(), Read: r.Read, Own: own,
	}
	for _, m := range r.Milk {
		d.Milk = append(d.Milk, string(m))
	}
	if r.Days > 0 {
		d.Days = &r.Days
	}
	if r.Warm {
		d.MinTemp = num(float64(r.MinTemp))
	}
	return d
}

func (a *app) lawListCmd() *cobra.Command {
	var country string
	c := a.nowCmd("list", "The rules, with their sources", `
rindkeep law list
rindkeep law list --country CA`, none, func(cmd *cobra.Command, _ []string) error {
		of, err := countriesOf("--country", country)
		if err != nil {
			return err
		}
		return a.catalogue(func(own func(kind, name string) bool, s *session) error {
			rs := holdrule.Builtin()
			if s != nil {
				if rs, err = s.tx.Laws(); err != nil {
					return err
				}
			}
			docs := []lawDoc{}
			t := text.Table{Columns: []text.Column{{Title: "rule"}, {Title: "of"}, {Title: "for", Wrap: true}, {Title: "asks", Wrap: true}, {Title: "source", Wrap: true}, {}}}
			for _, r := range rs {
				if len(of) > 0 && len(r.Of(of)) == 0 {
					continue
				}
				o := own("law", r.Name)
				docs = append(docs, lawDocOf(r, o))
				t.Add(r.Name, fewCountries(r.Countries), lawFor(r), r.Asks(), r.Cite()+" ("+readWords(r)+")", ownWord(o))
			}
			if a.json {
				return a.document(struct {
					Schema string   `json:"schema"`
					Laws   []lawDoc `json:"laws"`
				}{schema("law-list"), docs})
			}
			if len(docs) == 0 {
				a.print("no rule on file; add your own with rindkeep law add FILE\n")
				return nil
			}
			a.lines(t.Lines(a.env.Columns()))
			a.print("\n")
			a.caution(lawCaution)
			return nil
		})
	})
	c.Flags().StringVar(&country, "country", "", "only of these `CODES`")
	return c
}

func fewCountries(cs []string) string {
	if len(cs) > 3 {
		if slices.Contains(cs, "EU") {
			return fmt.Sprintf("EU (%d)", len(cs)-1)
		}
		return fmt.Sprintf("%s +%d", cs[0], len(cs)-1)
	}
	return strings.Join(cs, " ")
}

func lawFor(r holdrule.Rule) string {
	if len(r.Varieties)+len(r.Groups) == 0 {
		return "all kinds"
	}
	return strings.Join(slices.Concat(r.Varieties, r.Groups), ", ")
}

func (a *app) lawShowCmd() *cobra.Command {
	return a.nowCmd("show NAME", "One rule as its TOML text, source and all", `
rindkeep law show us-cheddar
rindkeep law show us-cheddar > my-rule.toml`, exactly("NAME"), func(cmd *cobra.Command, args []string) error {
		return a.catalogue(func(own func(kind, name string) bool, s *session) error {
			r, ok := holdrule.Find(args[0])
			if s != nil {
				var err error
				if r, err = s.tx.Law(args[0]); err != nil {
					return err
				}
			} else if !ok {
				return notInLibrary("rule", args[0])
			}
			if err := a.catalogueText("law", r.Name, r.Title, r.Text); err != nil || a.json {
				return err
			}
			a.note("%s", lawCaution)
			return nil
		})
	})
}

func (a *app) lawCheckCmd() *cobra.Command {
	return a.nowCmd("check FILE", "Check a rule without adding it", `
rindkeep law check my-rule.toml`, exactly("FILE"), func(cmd *cobra.Command, args []string) error {
		name, data, err := a.catalogueFile(args[0])
		if err != nil {
			return err
		}
		r, err := holdrule.Parse(name, data)
		if err != nil {
			return at(args[0], err)
		}
		return a.catalogueGood("law", r.Name, r.Title, "is sound: "+strings.Join(r.Countries, " ")+", "+r.Asks()+"; "+holdrule.CheckYourOwn)
	})
}

func (a *app) lawAddCmd() *cobra.Command {
	return a.cmd("add FILE", "Add a rule of your own, or override one", `
rindkeep law add my-rule.toml`, exactly("FILE"), func(cmd *cobra.Command, args []string) error {
		name, data, err := a.catalogueFile(args[0])
		if err != nil {
			return err
		}
		if _, err := holdrule.Parse(name, data); err != nil {
			return at(args[0], err)
		}
		if err := a.create(""); err != nil {
			return err
		}
		return a.update(func(s *session) error {
			r, err := s.write.PutLaw(name, data)
			if err != nil {
				return at(args[0], err)
			}
			for _, v := range r.Varieties {
				if _, err := s.tx.Variety(v); err != nil {
					s.note("the rule names %s, which is no variety of this book yet", v)
				}
			}
			word := "is in the book"
			if _, ok := holdrule.Find(r.Name); ok {
				word += ", in place of the built-in one"
			}
			return a.catalogueGood("law", r.Name, r.Title, word+"; "+holdrule.CheckYourOwn)
		})
	})
}

// followDoc is whose law a book follows, and followed.
type followDoc struct {
	Schema    string         `json:"schema"`
	Countries []string       `json:"countries"`
	Changed   bool           `json:"changed"`
	History   []followedLine `json:"history"`
}

type followedLine struct {
	Countries []string `json:"countries"`
	From      string   `json:"from"`
	By        string   `json:"by"`
	Note      string   `json:"note"`
}

func (a *app) lawFollowCmd() *cobra.Command {
	var no bool
	var note string
	c := a.nowCmd("follow [COUNTRY...]", "Say, or show, whose law the book's wheels follow", `
rindkeep law follow                        whose it is
rindkeep law follow US                     by ISO code
rindkeep law follow CA US FR --note "sold abroad from this spring"
rindkeep law follow --none                 as the varieties' own files have it`, cobra.ArbitraryArgs, func(cmd *cobra.Command, args []string) error {
		cs, err := countriesOf("COUNTRY", strings.Join(args, " "))
		switch {
		case err != nil:
			return err
		case no && len(cs) > 0:
			return usagef("--none is for no country; leave the countries or --none out")
		case !no && len(cs) == 0 && note != "":
			return usagef("--note is of a change; name the countries, or --none")
		case !no && len(cs) == 0:
			return a.view(func(s *session) error { return s.followOut(false) })
		}
		return a.update(func(s *session) error {
			changed, err := s.write.PutFollow(store.Follow{ID: s.nextID(), Countries: holdrule.Joined(cs), Note: note, Written: s.now, By: s.who})
			if err != nil {
				return err
			}
			return s.followOut(changed)
		})
	})
	c.Flags().BoolVar(&no, "none", false, "follow no country's rules: the varieties' own files decide")
	c.Flags().StringVar(&note, "note", "", "a `TEXT` to keep with it")
	return c
}

func countriesOf(where, words string) ([]string, error) {
	cs, err := holdrule.ParseCountries(words)
	if err != nil {
		return nil, at(where, usageError{Msg: err.Error()})
	}
	return cs, nil
}

func (s *session) followOut(changed bool) error {
	cs, err := s.tx.Countries(s.now.Add(time.Millisecond))
	if err != nil {
		return err
	}
	fs, err := s.tx.Follows()
	if err != nil {
		return err
	}
	set := s.tx.Settings()
	first, err := holdrule.ParseCountries(set.Countries)
	if err != nil {
		return err
	}
	lines := []followedLine{{first, instant(set.Created, s.loc), set.By, ""}}
	for _, f := range fs {
		c, err := holdrule.ParseCountries(f.Countries)
		if err != nil {
			return err
		}
		lines = append(lines, followedLine{c, instant(f.Written, s.loc), f.By, f.Note})
	}
	if s.json {
		return s.document(followDoc{schema("law-follow"), filled(cs), changed, lines})
	}
	switch {
	case len(cs) == 0:
		s.print("the book names no country: raw milk is held as the varieties' own files have it (21 CFR 133)\n")
	case changed:
		s.print("from now on the book follows %s\n", strings.Join(cs, ", "))
	default:
		s.print("the book follows %s\n", strings.Join(cs, ", "))
	}
	if len(lines) > 1 {
		t := text.Table{Indent: 2, Columns: []text.Column{{}, {}, {Wrap: true}, {}}}
		for _, l := range lines {
			t.Add(strings.Replace(l.From[:16], "T", " ", 1), orNone(strings.Join(l.Countries, " ")), l.Note, l.By)
		}
		s.lines(t.Lines(s.env.Columns()))
	}
	rs, err := s.tx.Laws()
	if err != nil {
		return err
	}
	var silent []string
	for _, c := range cs {
		if !slices.ContainsFunc(rs, func(r holdrule.Rule) bool { return len(r.Of([]string{c})) > 0 }) {
			silent = append(silent, c)
		}
	}
	if len(silent) > 0 {
		s.caution(fmt.Sprintf("CAUTION: no rule on file for %s: nothing is held by its law here. Add yours with rindkeep law add FILE.", strings.Join(silent, ", ")))
	}
	s.caution(lawCaution)
	return nil
}

func orNone(s string) string {
	if s == "" {
		return "none"
	}
	return s
}

// lawHoldDoc is what a law asks of a wheel, and how far it is.
type lawHoldDoc struct {
	Rule      string      `json:"rule"`
	Countries []string    `json:"countries"`
	Days      int         `json:"days"`
	Counted   *float64    `json:"counted_days"`
	Left      *float64    `json:"left_days"`
	MinTemp   *float64    `json:"counts_from_temp_c"`
	Met       bool        `json:"met"`
	Source    string      `json:"source"`
	Read      string      `json:"read"`
	Words     string      `json:"words"`
	Reasons   reason.List `json:"reasons"`
}

func (s *session) lawHoldDocs(hs []verdict.LawHold) []lawHoldDoc {
	out := []lawHoldDoc{}
	for _, h := range hs {
		d := lawHoldDoc{
			Rule: h.Rule.Name, Countries: filled(h.By), Days: h.Days, Counted: zeroed(rounded(h.Have, 100)), Left: zeroed(rounded(math.Max(0, h.Left), 100)),
			Met: !h.Open(), Source: h.Source, Read: h.Rule.Read, Words: s.printer().Sentence(h.Reason()), Reasons: reason.List{h.Reason()},
		}
		if h.Rule.Warm {
			d.MinTemp = num(float64(h.AtOver))
		}
		out = append(out, d)
	}
	return out
}

// heldByLaw says whether a law keeps a wheel from leaving now. Only where a law
// asks for days does it take the air the wheel lay in.
func (s *session) heldByLaw(l wheel.Life) (bool, error) {
	if l.GoneOn != day.None {
		return false, nil
	}
	set, ok := s.laws[l.Make.ID]
	if !ok {
		var err error
		if set, err = s.tx.MakeLaw(l.Make); err != nil {
			return false, err
		}
		if s.laws == nil {
			s.laws = map[uuid.UUID]holdrule.Set{}
		}
		s.laws[l.Make.ID] = set
	}
	if !slices.ContainsFunc(set.Rules, func(r holdrule.Rule) bool { return r.Days > 0 && r.Takes(l.Make.Milk.Treatment) }) {
		return false, nil
	}
	c, err := s.tx.CaseAlone(l.Wheel.ID)
	if err != nil {
		return false, err
	}
	return len(c.LawHolds(s.now)) > 0, nil
}

// labelDoc is what a law asks of a label.
type labelDoc struct {
	Rule   string `json:"rule"`
	Label  string `json:"label"`
	Source string `json:"source"`
	Read   string `json:"read"`
}

func labelDocs(rs []holdrule.Rule) []labelDoc {
	out := []labelDoc{}
	for _, r := range rs {
		out = append(out, labelDoc{r.Name, r.Label, r.Cite(), r.Read})
	}
	return out
}

// labelWords says one duty of a label.
func labelWords(r holdrule.Rule) string {
	return fmt.Sprintf("label: %q (%s, %s); %s", r.Label, r.Cite(), readWords(r), holdrule.CheckYourOwn)
}

// readWords says when a rule was read.
func readWords(r holdrule.Rule) string {
	if r.Read == "from memory" {
		return r.Read
	}
	return "read " + r.Read
}
