package page

import (
	"encoding/json"
	"slices"
	"strings"
	"time"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/library"
	"rindkeep/cmd/page/form"
	"rindkeep/cmd/page/format"
)

// The pages that are one form.

// formBody is such a page.
type formBody struct {
	Lead      []string
	Links     []link // other ways
	Form      form.Form
	Places    []string
	Customers []string
}

type link struct{ To, Words string }

// formPage is a page with one form.
func formPage(c *call, title, here string, f form.Form, lead ...string) formView {
	return formView{View{Template: "form.html", Title: title, Here: here}, formBody{
		Lead: lead, Form: f, Places: places(c), Customers: customerNames(c),
	}}
}

type formView struct {
	View
	body formBody
}

// with adds links to other ways.
func (v formView) with(links ...link) View {
	v.body.Links = links
	v.Body = v.body
	return v.View
}

// offer is what the forms of this reader can offer.
func (c *call) offer() (o form.Offer, err error) {
	kinds, err := library.Varieties(c.ctx, c.app, c.caller)
	if err != nil {
		return o, err
	}
	plans, err := library.Plans(c.ctx, c.app, c.caller)
	if err != nil {
		return o, err
	}
	option := func(name, title string, own bool) form.Option {
		if own {
			title += " (your own)"
		}
		return form.Option{Value: name, Words: title}
	}
	for _, k := range kinds.Varieties {
		o.Kinds = append(o.Kinds, option(k.Name, k.Title, k.Own))
	}
	for _, p := range plans.Plans {
		o.Plans = append(o.Plans, option(p.Name, p.Title, p.Own))
	}
	p := c.words()
	o.Today, o.Weight = c.s.opt.Now().Format(time.DateOnly), p.Units.BareWeight()
	o.Degrees = format.Degrees(p)
	return o, nil
}

// formFor makes a page of a form that offers what the book has.
func formFor(page func(*call, form.Offer) View) func(*call) (View, error) {
	return func(c *call) (View, error) {
		o, err := c.offer()
		if err != nil {
			return View{}, err
		}
		return page(c, o), nil
	}
}

var (
	toStart    = link{"/start", "Answer a few questions instead"}
	toNew      = link{"/makes/new", "A make with all its figures"}
	toReceive  = link{"/makes/receive", "Bought-in wheels"}
	toImport   = link{"/import", "A table of wheels, CSV or XLSX"}
	toTakeOver = link{"/makes/take-over", "Older wheels of your own"}
)

func startPage(c *call, o form.Offer) View {
	return formPage(c, "Start", "makes", o.Start(),
		"Put a make and its wheels in the book, and the room they’re in. Answer this again for the next make.").
		with(toReceive, toTakeOver, toImport, toNew)
}

func newMake(c *call, o form.Offer) View {
	return formPage(c, "Record a new make", "makes", o.Make()).with(toStart, toReceive, toTakeOver)
}

func receivePage(c *call, o form.Offer) View {
	return formPage(c, "Receive bought-in wheels", "makes", o.Receive(), "Their age counts from the make. Their loss "+
		"counts from the day they came: what they lost before isn’t known. The plan starts now, and nothing is late.").
		with(toTakeOver, toImport)
}

func takeOverPage(c *call, o form.Offer) View {
	return formPage(c, "Take over older wheels", "makes", o.TakeOver(), "For wheels of your own that aren’t in the book "+
		"yet. Their age counts from the make. Their loss counts from the first weight you give. The plan starts today, "+
		"and nothing is late.").with(toReceive, toImport)
}

func newRoom(c *call, o form.Offer) View {
	return formPage(c, "New room", "rooms", o.Room(nil)).with()
}

// faultOf are the fields that a reason is about, by its thing or its code, where they
// aren't called like it: the first that an act has.
var faultOf = map[string][]string{
	"milk_treatment": {"treatment"}, "raw_milk_heated": {"heat"}, "heat_incomplete": {"heat"}, "volume": {"litres"},
	"ingredient_name": {"name"}, "ingredient": {"name"}, "kind_of_ingredient": {"kind"}, "lot_number": {"batch"},
	"step_name": {"stage"}, "no_acidity": {"ph"}, "no_composition": {"moisture"}, "place_of_the_salt": {"where"},
	"use_of_the_curd": {"for"}, "milk_fat": {"fat"}, "milk_protein": {"protein"}, "salt": {"cheese_salt"},
	"salt_rate": {"rate"}, "mould": {"diameter"}, "curd_into_itself": {"into"}, "moisture_fat_salt": {"moisture"},
	"supplier": {"from"},
}

// placed says at which field of the act a refusal is that doesn't know: by what its
// reason is about.
func (a act) placed(err error) error {
	if err == nil {
		return nil
	}
	r := app.AsRefusal(err)
	if r.Why == nil || r.At != (app.Place{}) {
		return err
	}
	var of struct{ What, Thing string }
	if _, flat := r.Why.(reason.Flat); !flat {
		if b, err := json.Marshal(r.Why); err == nil {
			_ = json.Unmarshal(b, &of)
		}
	}
	for _, word := range []string{of.What, of.Thing, r.Why.Code()} {
		word = strings.NewReplacer("-", "_", " ", "_").Replace(word)
		for _, name := range append([]string{word}, faultOf[word]...) {
			if slices.ContainsFunc(a.fields, func(f field) bool { return f.name == name }) {
				r.At.Field = name
				return r
			}
		}
	}
	return r
}
