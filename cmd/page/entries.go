package page

import (
	"slices"
	"strconv"
	"strings"

	"rindkeep/cmd/app/entries"
)

// What was recorded, and what of it was struck.

// usualEntries is how many entries the API gives unless it is told otherwise.
const usualEntries = 200

func showLog(c *call) (any, error) {
	list := func(name string) []string {
		return strings.FieldsFunc(c.text(name), func(r rune) bool { return r == ',' })
	}
	q := entries.Question{
		What: c.q["what"], From: c.text("from"), To: c.text("to"), Jobs: list("job"), Kinds: list("kind"),
	}
	if c.q.Has("person") {
		who := c.text("person")
		q.Person = &who
	}
	var byDay bool
	var err error
	if q.Struck, err = c.truth("struck"); err != nil {
		return nil, err
	}
	if byDay, err = c.truth("by-day"); err != nil {
		return nil, err
	}
	if byDay {
		if c.q.Has("most") {
			return nil, badRequestf("most", "by-day lists whole days; leave most out")
		}
		return entries.ByDay(c.ctx, c.app, c.caller, q)
	}
	if q.Most, err = c.number("most", usualEntries); err != nil {
		return nil, err
	}
	d, err := entries.Of(c.ctx, c.app, c.caller, q)
	return filled(d, err, c.words().FillLog)
}

// mostLogged is how many entries the page of the log shows.
const mostLogged = 200

// logBody is the page of the log.
type logBody struct {
	What, Person, From, To string
	Log                    entries.Log
	People                 []string
	Refused                *Refusal
}

// logPage is who did what, the newest first; of everything in the last seven days unless
// the query says otherwise.
func logPage(c *call) (View, error) {
	b := logBody{What: c.text("what"), Person: c.text("person"), From: c.text("from"), To: c.text("to")}
	v := View{Template: "log.html", Title: "Log", Here: "log"}
	q := entries.Question{From: b.From, To: b.To, Most: mostLogged}
	switch {
	case b.What != "":
		q.What = []string{b.What}
	case b.From+b.To == "":
		q.From = "-6d"
	}
	if b.Person != "" {
		q.Person = &b.Person
	}
	var err error
	if b.Log, err = entries.Of(c.ctx, c.app, c.caller, q); err != nil {
		status, said := c.s.refusal(c.r, err)
		b.Refused, v.Status = &said, status
	}
	c.words().FillLog(&b.Log)
	slices.Reverse(b.Log.Entries)
	if c.s.opt.Access != nil {
		known, err := c.s.opt.Access.Known()
		if err != nil {
			return v, err
		}
		for _, k := range known {
			b.People = append(b.People, k.Name)
		}
	}
	v.Body = b
	return v, nil
}

// subjectPage is the address of the page of what an entry is about.
func subjectPage(of string) string {
	if lot, ok := strings.CutPrefix(of, "lot "); ok {
		return lotPage(lot)
	}
	return wheelPage(of)
}

// truth is a yes or no of the query.
func (c *call) truth(name string) (bool, error) {
	w := c.text(name)
	if w == "" {
		return false, nil
	}
	b, err := strconv.ParseBool(w)
	if err != nil {
		err = badRequestf(name, "%s is true or false, not %q", name, short(w))
	}
	return b, err
}

func saveStrike(c *call, v values) (any, error) {
	e := v.text("entry")
	if e == "" {
		// Without entry, id is what to strike: striking twice changes nothing, so the
		// strike itself needs no identity.
		e, c.caller.ID = v.text("id"), ""
	}
	switch {
	case e == "":
		return nil, badRequestf("entry", "entry is missing: say which entry to cancel")
	case strings.EqualFold(e, "last"):
		// Several write at once: the last act may be another's.
		return nil, badRequestf("entry",
			"name the entry by its code or its id: the last one may be somebody else's by now")
	}
	q := entries.ToStrike{Entries: []string{e}, Why: v.text("why"), Sure: v.truth("sure")}
	return record(c, nil, entries.Strike, q, nil)
}
