package page

import (
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
	d, err := entries.Strike(c.ctx, c.app, c.caller, q)
	return saved(d, err, nil)
}
