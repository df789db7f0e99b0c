package trade

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"rindkeep/cave/day"
	"rindkeep/cmd/app"
)

// RecallHead names the columns of the recall list.
var RecallHead = []string{
	"wheel", "lot", "customer", "contact", "address", "date", "weight_g", "whole_or_piece", "document",
}

// Recall is the recall list: the deliveries, in the order they went.
func (t Trace) Recall() app.Table {
	out := app.Table{Name: "recall", Head: RecallHead}
	for _, d := range t.Deliveries {
		out.Rows = append(out.Rows, []any{
			d.Tag(), d.Lot, d.Customer, OneLine(d.Contact), OneLine(d.Address), d.Date, cellOf(d.Weight), d.Part, d.Document,
		})
	}
	return out
}

// FSMAHead names the columns of the sheet of key data that FSMA 204 wants at receiving,
// transformation and shipping (21 CFR 1.1345, 1.1350 and 1.1340, read 2026-11-28 but for
// 1.1350, which is from a secondary source), in our own words. One sheet has all three, so
// that it can be sorted.
var FSMAHead = []string{
	"event", "date", "lot_code", "quantity", "unit", "description", "made_at_or_shipped_from", "recipient",
	"recipient_contact", "recipient_address", "lot_code_given_by", "reference_document", "made_from_lot_codes",
	"reference_document_type", "received_at", "previous_source", "previous_source_contact", "previous_source_address",
	"input_description", "input_quantity", "input_unit",
}

// fsmaRow is one event of that sheet.
type fsmaRow struct {
	event                              string
	date                               any // a day.Date
	code                               string
	quantity                           any
	unit, description, from            string
	recipient, contact, address        string
	source, document, inputs           string
	documentType, at                   string
	previous, prevContact, prevAddress string
	inputDescription                   string
	inputQuantity                      any
	inputUnit                          string
}

func (r fsmaRow) cells() []any {
	return []any{
		r.event, r.date, r.code, r.quantity, r.unit, r.description, r.from, r.recipient, r.contact, r.address, r.source,
		r.document, r.inputs, r.documentType, r.at, r.previous, r.prevContact, r.prevAddress, r.inputDescription,
		r.inputQuantity, r.inputUnit,
	}
}

// Missing stands on that sheet where the rule asks for something that the book doesn't have.
const Missing = "missing"

// complete writes Missing where a key data element of the event is blank.
func (r *fsmaRow) complete() {
	needs := []*string{&r.code, &r.unit, &r.description, &r.source, &r.document, &r.documentType}
	switch r.event {
	case "receiving":
		needs = append(needs, &r.at, &r.previous, &r.prevContact, &r.prevAddress)
	case "shipping":
		needs = append(needs, &r.from, &r.recipient, &r.contact, &r.address)
	default:
		needs = append(needs, &r.from)
	}
	for _, cell := range needs {
		*cell = cmp.Or(*cell, Missing)
	}
}

// FSMA is a row for each receipt of the lots, each make or transformation and each
// delivery; site is where they are kept and shipped from. Lots come and are made whole,
// whichever wheels of them the trace concerns. A lot that was bought in wasn't made here: it
// has no row of its making.
func (t Trace) FSMA(site string) app.Table {
	var rows []fsmaRow
	for _, l := range t.Lots {
		if l.Reach == ViaFrom {
			continue
		}
		for _, r := range l.came {
			rows = append(rows, fsmaRow{
				event: "receiving", date: r.Date, code: r.code(l.Lot), quantity: r.Came, unit: unitOf(r.Came),
				description: l.Title, source: cmp.Or(r.source, site), at: site, document: r.Document,
				documentType: r.DocumentType,
				previous:     r.Supplier, prevContact: OneLine(r.Contact), prevAddress: OneLine(r.Address),
			})
		}
		rows = append(rows, l.transformations(site)...)
	}
	for _, d := range t.Deliveries {
		r := fsmaRow{
			event: "shipping", date: d.Date, code: d.Code, quantity: 1, unit: "wheel", from: site, recipient: d.Customer,
			description: fmt.Sprintf("%s, %s, wheel %s", d.title, d.Part, d.Tag()), contact: OneLine(d.Contact),
			address: OneLine(d.Address), source: cmp.Or(d.Source, site),
		}
		switch {
		case d.Weight != nil:
			r.quantity, r.unit = *d.Weight, "g"
		case d.Part == "piece":
			r.unit = "piece"
		}
		if d.Document != "" {
			r.document, r.documentType = d.Document, "delivery note"
		}
		rows = append(rows, r)
	}
	out := app.Table{Name: "FSMA 204", Head: FSMAHead}
	for _, r := range rows {
		r.complete()
		out.Rows = append(out.Rows, r.cells())
	}
	slices.SortStableFunc(out.Rows, func(a, b []any) int { return cmp.Compare(a[1].(day.Date), b[1].(day.Date)) })
	return out
}

// Lacks says whether something is missing on the sheet.
func Lacks(t app.Table) bool {
	return slices.ContainsFunc(t.Rows, func(r []any) bool { return slices.Contains(r, any(Missing)) })
}

func unitOf(n int) string {
	if n == 1 {
		return "wheel"
	}
	return "wheels"
}

// transformations are the rows of a lot's making from milk, or of what was done here to cheese
// that was bought in, one for each day that some of it was ready.
func (l *Lot) transformations(site string) (out []fsmaRow) {
	row := func(on day.Date, wheels int) fsmaRow {
		return fsmaRow{
			event: "transformation", date: on, code: l.Lot, quantity: wheels, unit: unitOf(wheels),
			description: l.Title, from: site, source: site, document: "make sheet " + l.Lot, documentType: "make sheet",
			inputs: strings.Join(l.Inputs, "; "),
		}
	}
	if len(l.came) == 0 && l.WheelsOfLot > 0 {
		out = append(out, row(l.Made, l.WheelsOfLot))
	}
	for _, m := range l.done {
		r := row(m.on, m.wheels)
		r.inputs = strings.Join(m.codes, "; ")
		r.inputDescription, r.inputQuantity, r.inputUnit = l.Title, m.wheels, unitOf(m.wheels)
		out = append(out, r)
	}
	return out
}

func cellOf(x *float64) any {
	if x == nil {
		return nil
	}
	return *x
}

// OneLine brings a text with line breaks onto one line.
func OneLine(s string) string {
	return strings.Join(strings.Fields(strings.ReplaceAll(s, "\n", ", ")), " ")
}
