package page

import (
	"cmp"
	"strconv"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/round"
	"rindkeep/cmd/app/sheets"
	"rindkeep/cmd/sheet"
)

// What is printed: the day's list, and labels. The sheets of a wheel, a make, a recall
// and what is held are on their pages.

// printBody is the page that offers what can be printed.
type printBody struct {
	What   string // to make labels for
	Rooms  []string
	Stocks []sheet.Stock
}

func printPage(c *call) (View, error) {
	return View{Template: "print.html", Title: "Print", Here: "print",
		Body: printBody{c.text("what"), roomNames(c), sheet.Stocks}}, nil
}

func daySheet(c *call) ([]byte, error) {
	p := c.words()
	c.caller.On = c.text("on")
	q := round.Asked{Together: true, Narrow: app.Narrow{Room: c.text("room")}}
	return c.sheet(func(s *app.Session, h sheet.Head) (func() (sheet.Doc, error), error) {
		draw, _, err := sheet.GatherDay(s, p, h, q)
		return draw, err
	})
}

func labelSheet(c *call) ([]byte, error) {
	what, name := c.text("what"), c.text("stock")
	k, ok := sheet.FindStock(cmp.Or(name, sheet.Stocks[0].Name))
	start, err := strconv.Atoi(cmp.Or(c.text("start"), "1"))
	switch {
	case what == "":
		return nil, elsewhere("/print")
	case !ok:
		return nil, badRequestf("stock", "no label stock %q", short(name))
	case err != nil || start < 1 || start > k.PerSheet():
		return nil, badRequestf("start", "a sheet of %s has labels 1 to %d", k.Name, k.PerSheet())
	}
	return c.sheet(func(s *app.Session, h sheet.Head) (func() (sheet.Doc, error), error) {
		ls, err := sheets.Labels(s, []string{what})
		return func() (sheet.Doc, error) { return sheet.Labels(h, k, start, c.q.Has("cut"), ls) }, err
	})
}
