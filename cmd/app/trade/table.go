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

// Missing stands on that sheet where it needs a document and the book has none.
const Missing = "missing"

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
				description: l.Title, source: cmp.Or(r.source, site), at: site, document: cmp.Or(r.Document, Missing),
				documentType: cmp.Or(r.DocumentType, Missing),
				previous:     r.Supplier, prevContact: OneLine(r.Contact), prevAddress: OneLine(r.Address),
			})
		}
		if r, ok := l.transformation(site); ok {
			rows = append(rows, r)
		}
	}
	for _, d := range t.Deliveries {
		r := fsmaRow{
			event: "shipping", date: d.Date, code: d.Code, quantity: 1, unit: "wheel", from: site, recipient: d.Customer,
			description: fmt.Sprintf("%s, %s, wheel %s", d.title, d.Part, d.Tag()), contact: OneLine(d.Contact),
			address: OneLine(d.Address), source: cmp.Or(d.Source, site), document: Missing,
			documentType: Missing,
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
		out.Rows = append(out.Rows, r.cells())
	}
	slices.SortStableFunc(out.Rows, func(a, b []any) int { return cmp.Compare(a[1].(day.Date), b[1].(day.Date)) })
	return out
}

// NoDocument says whether the sheet lacks the document of a delivery or a sending.
func (t Trace) NoDocument() bool {
	return slices.ContainsFunc(t.Deliveries, func(d Delivery) bool { return d.Document == "" }) ||
		slices.ContainsFunc(t.Lots, func(l *Lot) bool {
			return slices.ContainsFunc(l.came, func(r Receipt) bool { return r.Document == "" })
		})
}

func unitOf(n int) string {
	if n == 1 {
		return "wheel"
	}
	return "wheels"
}

// transformation is the row of a lot's making from milk, or of what was done here to cheese
// that was bought in; ok is false where there was neither.
func (l *Lot) transformation(site string) (r fsmaRow, ok bool) {
	r = fsmaRow{
		event: "transformation", date: l.Made, code: l.Lot, quantity: l.WheelsOfLot, unit: unitOf(l.WheelsOfLot),
		description: l.Title, from: site, source: site, document: "make sheet " + l.Lot, documentType: "make sheet",
		inputs: strings.Join(l.Inputs, "; "),
	}
	if len(l.came) == 0 {
		return r, l.WheelsOfLot > 0
	}
	var codes []string
	n := 0
	for _, x := range l.came {
		n += x.own
		if c := x.code(l.Lot); x.own > 0 && !slices.Contains(codes, c) {
			codes = append(codes, c)
		}
	}
	r.date, r.quantity, r.unit, r.inputs = l.done, n, unitOf(n), strings.Join(codes, "; ")
	r.inputDescription, r.inputQuantity, r.inputUnit = l.Title, n, unitOf(n)
	return r, l.Transformed && l.done != day.None
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
