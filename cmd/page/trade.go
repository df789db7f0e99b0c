package page

import (
	"slices"
	"strings"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/trade"
	"rindkeep/cmd/sheet"
	"rindkeep/cmd/text"
)

// The customers, and what went where.

func listCustomers(c *call) (any, error) { return trade.Customers(c.ctx, c.app, c.caller) }

func showCustomer(c *call) (any, error) {
	d, err := trade.ShowCustomer(c.ctx, c.app, c.caller, c.name())
	return filled(d, err, nil)
}

func traced(c *call) (any, error) { return trace(c) }

// trace answers what a query asks to be traced.
func trace(c *call) (trade.Trace, error) {
	t, err := trade.Run(c.ctx, c.app, c.caller, traceQuestion(c))
	if err == nil {
		c.words().FillTrace(&t)
	}
	return t, err
}

func traceQuestion(c *call) trade.Question {
	q := trade.Question{
		Ingredient: c.text("ingredient"), Customer: c.text("customer"),
		Room: c.text("room"), From: c.text("from"), To: c.text("to"),
	}
	for _, w := range c.q["what"] {
		q.What = append(q.What, strings.Fields(strings.ReplaceAll(w, ",", " "))...)
	}
	if name := c.name(); name != "" {
		q.What = append(q.What, name)
	}
	return q
}

// asks says whether a query asks anything.
func asks(q trade.Question) bool {
	return len(q.What) > 0 || q.Ingredient+q.Customer+q.Room+q.From+q.To != ""
}

// traceBody is the page of a trace.
type traceBody struct {
	What                string // as it was typed
	Q                   trade.Question
	Asked               bool
	Trace               trade.Trace
	Refused             *Refusal
	Recall, FSMA, Paper string
	Rooms               []string
	Customers           []string
}

func tracePageOf(c *call) (View, error) {
	d := traceBody{What: c.q.Get("what"), Q: traceQuestion(c)}
	v := View{Template: "trace.html", Title: "Trace", Here: "trace"}
	if asks(d.Q) {
		t, err := trace(c)
		if err != nil {
			status, said := c.s.refusal(c.r, err)
			d.Refused, v.Status = &said, status
		} else {
			q := c.q.Encode()
			d.Asked, d.Trace = true, t
			d.Recall, d.FSMA, d.Paper = "/trace/recall.csv?"+q, "/trace/fsma.csv?"+q, "/trace/recall.pdf?"+q
		}
	}
	d.Rooms, d.Customers = roomNames(c), customerNames(c)
	v.Body = d
	return v, nil
}

// traceFile makes a file of a trace; a query that asks nothing goes to the page.
func traceFile(of func(trade.Trace) app.Table) func(*call) ([]byte, error) {
	return func(c *call) ([]byte, error) {
		if !asks(traceQuestion(c)) {
			return nil, elsewhere("/trace")
		}
		t, err := trace(c)
		if err != nil {
			return nil, err
		}
		return text.CSV(of(t)), nil
	}
}

func fsmaTable(t trade.Trace) app.Table { return t.FSMA(t.Site) }

func recallSheet(c *call) ([]byte, error) {
	q := traceQuestion(c)
	if !asks(q) {
		return nil, elsewhere("/trace")
	}
	if err := q.Check(); err != nil {
		return nil, err
	}
	p := c.words()
	return c.sheet(func(s *app.Session, h sheet.Head) (func() (sheet.Doc, error), error) {
		t, err := trade.Gather(s, q)
		p.FillTrace(&t)
		return func() (sheet.Doc, error) { return sheet.RecallSheet(h, sheet.RecallOf(p, t)) }, err
	})
}

func customersPage(c *call) (View, error) {
	d, err := trade.Customers(c.ctx, c.app, c.caller)
	return View{Template: "customers.html", Title: "Customers", Here: "customers", Body: d.Customers}, err
}

// customerNames are what a field offers: the page goes on without them.
func customerNames(c *call) (out []string) {
	d, _ := trade.Customers(c.ctx, c.app, c.caller)
	for _, x := range d.Customers {
		out = append(out, x.Name)
	}
	return slices.Clip(out)
}

func saveCustomer(c *call, v values) (any, error) {
	given := func(name string) *string {
		if s, ok := v[name].(string); ok {
			return &s
		}
		return nil
	}
	q := trade.CustomerFacts{
		Name: v.text("name"), Contact: given("contact"), Address: given("address"), Note: given("note"),
	}
	return record(c, nil, trade.SaveCustomer, q, nil)
}
