package library

import (
	"context"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store/register"
	"rindkeep/wheel"
	"rindkeep/wheel/holdrule"
	"rindkeep/wheel/variety"
	"rindkeep/wheel/verdict"
)

// LawList is the rules of food laws on file.
type LawList struct {
	Schema string    `json:"schema"`
	Laws   []LawLine `json:"laws"`
}

// LawLine is one rule; Own says that it is the book's own.
type LawLine struct {
	Name      string   `json:"name"`
	Title     string   `json:"title"`
	Countries []string `json:"countries"`
	Varieties []string `json:"varieties"`
	Groups    []string `json:"groups"`
	SoldAs    []string `json:"sold_as"`
	Milk      []string `json:"milk"`
	Days      *int     `json:"days"`
	Months    *int     `json:"months"`
	MinTemp   *float64 `json:"counts_from_temp_c"`
	From      string   `json:"count_from"`
	Label     string   `json:"label"`
	Source    string   `json:"source"`
	Edition   string   `json:"edition"`
	Read      string   `json:"read"`
	Own       bool     `json:"own"`

	Rule holdrule.Rule `json:"-"`
}

func lawLine(r holdrule.Rule, own bool) LawLine {
	d := LawLine{
		Name: r.Name, Title: r.Title, Countries: app.Filled(r.Countries), Varieties: app.Filled(r.Varieties),
		Groups: app.Filled(r.Groups), SoldAs: app.Filled(r.SoldAs), Milk: []string{}, From: r.From, Label: r.Label,
		Source: r.Cite(), Edition: r.Edition, Read: r.Read,
		Own: own, Rule: r,
	}
	for _, m := range r.Milk {
		d.Milk = append(d.Milk, string(m))
	}
	if r.Days > 0 {
		d.Days = &r.Days
	}
	if r.Months > 0 {
		d.Months = &r.Months
	}
	if r.Warm {
		d.MinTemp = app.Num(float64(r.MinTemp))
	}
	return d
}

// Laws lists the rules of the countries named by their ISO codes; none is all.
func Laws(ctx context.Context, a *app.App, c app.Caller, countries string) (LawList, error) {
	of, err := app.Countries("country", countries)
	if err != nil {
		return LawList{}, err
	}
	return ask(ctx, a, c, func(s *app.Session) (LawList, error) {
		d := LawList{app.Schema("law-list"), []LawLine{}}
		rs, err := all(s, register.Rules)
		for _, r := range rs {
			if len(of) == 0 || len(r.Of(of)) > 0 {
				d.Laws = append(d.Laws, lawLine(r, own(s, register.Rules, r.Name)))
			}
		}
		return d, err
	})
}

// Follow asks whose food law the book's wheels follow, or sets it. Without
// countries it is a question, unless None.
type Follow struct {
	Countries string // ISO codes
	None      bool   // of no country: no law holds anything
	Note      string // why; needed where safety holds end with it
	Sure      bool   // asked again whether they may
}

// Why a book can't follow what was asked.
const (
	NoneAndSome    reason.Flat = "follow-none-and-some"
	NoteOfNoChange reason.Flat = "follow-note-of-no-change"
)

// Followed is whose law the book follows, and followed.
type Followed struct {
	Schema    string         `json:"schema"`
	Countries []string       `json:"countries"`
	Changed   bool           `json:"changed"`
	History   []FollowedLine `json:"history"`

	Silent []string `json:"-"` // countries among them that no rule on file is of
}

// FollowedLine is whose law the book followed from an instant on.
type FollowedLine struct {
	Countries []string `json:"countries"`
	From      string   `json:"from"`
	By        string   `json:"by"`
	Note      string   `json:"note"`
}

// FollowLaw answers or changes whose law the book follows.
func FollowLaw(ctx context.Context, a *app.App, c app.Caller, q Follow) (d app.Did[Followed], err error) {
	cs, err := app.Countries("country", q.Countries)
	switch {
	case err != nil:
		return d, err
	case q.None && len(cs) > 0:
		return d, app.Misuse("none", NoneAndSome)
	case q.None || len(cs) > 0:
		return app.Act(ctx, a, c, func(s *app.Session) (Followed, error) {
			f := register.Follow{ID: s.NextID(), Countries: holdrule.Joined(cs), Note: q.Note, Written: s.Time, By: s.Who}
			ids, err := freed(s, cs)
			if err != nil {
				return Followed{}, err
			}
			left, err := s.LeftOut(cs)
			if err != nil {
				return Followed{}, err
			}
			changed := false
			err = s.Keeping(app.Lift{Why: q.Note, Field: "note", Sure: q.Sure}, ids, func() (err error) {
				changed, err = s.Write.PutFollow(f)
				return err
			})
			if err == nil && len(left) > 0 {
				err = s.IsReleaser("", left)
			}
			if err != nil {
				return Followed{}, err
			}
			return followed(s, changed)
		})
	case q.Note != "":
		return d, app.Misuse("note", NoteOfNoChange)
	}
	d.Result, err = app.Ask(ctx, a, c, func(s *app.Session) (Followed, error) { return followed(s, false) })
	return d, err
}

// freed are the wheels here that a rule holds which is none of those countries'.
func freed(s *app.Session, countries []string) ([]uuid.UUID, error) {
	return s.HereOf(func(m wheel.Make) (bool, error) {
		if m.Countries != "" {
			return false, nil
		}
		set, err := s.Tx.MakeLaw(m)
		for i, r := range set.Rules { // that of a variety's own file is of no country
			if r.Binds(m.Milk.Treatment) && len(set.By[i]) > 0 && len(r.Of(countries)) == 0 {
				return true, err
			}
		}
		return false, err
	})
}

// deedOf names the text that is added, as a register.Lift has it.
func deedOf(k Kind, name string) string {
	if k == Law {
		k = "rule"
	}
	return string(k) + " " + name
}

// loosens is a lift of holds to come, where by a rule or a variety wheels are held for less
// than by the text of that name, or than as long as no rule is on file; else a lift of none.
// Wheels may be recorded later that nothing holds then.
func loosens(s *app.Session, l app.Lift, now Good) (app.Lift, error) {
	all, err := s.Tx.Laws()
	if err != nil {
		return l, err
	}
	of, r, v := reason.Thing("rule"), now.Rule, now.Variety
	i := slices.IndexFunc(all, func(o holdrule.Rule) bool { return o.Name == r.Name })
	yes := r.Name != "" && (r.Fills(all) || i >= 0 && r.Loosens(all[i]))
	if v.Name != "" {
		was, err := s.Tx.Variety(v.Name)
		if err != nil && !app.IsNotFound(err) {
			return l, err
		}
		of, yes = reason.Thing(Variety), err == nil && laxer(all, v, was)
	}
	if yes {
		l.Of, l.Holds = now.Name, reason.List{app.HoldsToCome{What: of, Of: now.Name}}
		l.Alone = r.Name != "" && i < 0 // the rule that was missing
	}
	return l, nil
}

// laxer says whether a variety's text leaves out a rule that the one of that name has,
// whatever its cheese is sold as, or asks for fewer days itself.
func laxer(all []holdrule.Rule, now, was variety.Variety) bool {
	return slices.ContainsFunc(all, func(r holdrule.Rule) bool {
		name := strings.Join(r.SoldAs, " ")
		return r.Covers(was, name) && !r.Covers(now, name)
	}) || now.Limits.RawMinDays < was.Limits.RawMinDays || was.Limits.RawMinDays > 0 &&
		(now.Limits.RawMinTemp < was.Limits.RawMinTemp || !slices.Equal(now.Limits.SoldAs, was.Limits.SoldAs))
}

func followed(s *app.Session, changed bool) (Followed, error) {
	cs, err := s.Tx.Countries(s.Time.Add(time.Millisecond))
	if err != nil {
		return Followed{}, err
	}
	d := Followed{Schema: app.Schema("law-follow"), Countries: app.Filled(cs), Changed: changed}
	set := s.Tx.Settings()
	fs, err := s.Tx.Follows()
	if err != nil {
		return d, err
	}
	for _, f := range append([]register.Follow{{Countries: set.Countries, Written: set.Created, By: set.By}}, fs...) {
		c, err := holdrule.ParseCountries(f.Countries)
		if err != nil {
			return d, err
		}
		d.History = append(d.History, FollowedLine{c, app.Instant(f.Written, s.Zone), f.By, f.Note})
	}
	rs, err := s.Tx.Laws()
	for _, c := range cs {
		if !slices.ContainsFunc(rs, func(r holdrule.Rule) bool { return len(r.Of([]string{c})) > 0 }) {
			d.Silent = append(d.Silent, c)
		}
	}
	return d, err
}

// LawHold is what a law asks of a wheel, and how far it is.
type LawHold struct {
	Rule      string   `json:"rule"`
	Countries []string `json:"countries"`
	Days      int      `json:"days"`
	Counted   *float64 `json:"counted_days"`
	Unread    *float64 `json:"without_a_reading_days"`
	Left      *float64 `json:"left_days"`
	MinTemp   *float64 `json:"counts_from_temp_c"`
	Met       bool     `json:"met"`
	Source    string   `json:"source"`
	Edition   string   `json:"edition"`
	Read      string   `json:"read"`
	Words     string   `json:"words"` // filled by cmd/words

	Reasons reason.List `json:"reasons"`
}

// LawHolds are a wheel's holds by law as its document has them.
func LawHolds(hs []verdict.LawHold) []LawHold {
	out := []LawHold{}
	for _, h := range hs {
		counted, left := app.Rounded(h.Have, 100), app.Rounded(math.Max(0, h.Left), 100)
		unread := app.Rounded(h.Unread, 100)
		d := LawHold{
			Rule: h.Rule.Name, Countries: app.Filled(h.By), Days: h.Days, Counted: &counted, Unread: &unread, Left: &left,
			Met: !h.Open(), Source: h.Source, Edition: h.Rule.Edition, Read: h.Rule.Read,
			Reasons: reason.List{h.Reason()},
		}
		if h.Rule.Warm {
			d.MinTemp = app.Num(float64(h.AtOver))
		}
		out = append(out, d)
	}
	return out
}

// Label is what a law asks of a label.
type Label struct {
	Rule    string `json:"rule"`
	Label   string `json:"label"`
	Source  string `json:"source"`
	Edition string `json:"edition"`
	Read    string `json:"read"`
}

// Labels are what laws ask of a label.
func Labels(rs []holdrule.Rule) []Label {
	out := []Label{}
	for _, r := range rs {
		out = append(out, Label{r.Name, r.Label, r.Cite(), r.Edition, r.Read})
	}
	return out
}
