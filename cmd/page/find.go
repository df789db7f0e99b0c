package page

import (
	"net/url"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/entries"
	"rindkeep/cmd/app/find"
	"rindkeep/cmd/app/wheels"
)

// mostFound is how many makes, wheels, customers and notes the page shows of a search.
const mostFound = 50

func search(c *call) (any, error) {
	most, err := c.number("most", 0)
	if err != nil {
		return nil, err
	}
	return c.search(most)
}

func (c *call) search(most int) (find.Found, error) {
	d, err := find.Words(c.ctx, c.app, c.caller, find.Question{Words: []string{c.text("words")}, Most: most})
	c.words().FillLog(&entries.Log{Entries: d.Notes})
	return d, err
}

// foundBody is the page of a search.
type foundBody struct {
	find.Found
	Find    string
	Refused *Refusal
}

// foundPage is what a search found, or the box for one; a word that nothing has may be a misspelt tag.
func foundPage(c *call) (View, error) {
	b := foundBody{Find: c.text("words")}
	v := View{Template: "find.html", Title: "Find", Here: "find"}
	switch v.Body = b; {
	case b.Find == "" && c.q.Has("words"):
		return v, elsewhere("/wheels")
	case b.Find == "":
		return v, nil
	}
	var err error
	if b.Found, err = c.search(mostFound); err != nil {
		return v, err
	}
	if !b.Any() {
		_, err := wheels.All(c.ctx, c.app, c.caller, wheels.Listed{What: []string{b.Find}})
		if app.IsNotFound(err) {
			_, said := c.s.refusal(c.r, err) // a page that found nothing is still a page
			b.Refused = &said
		}
	}
	v.Body = b
	return v, nil
}

// searchPage is the address of a search for words.
func searchPage(words string) string { return "/find?" + url.Values{"words": {words}}.Encode() }
