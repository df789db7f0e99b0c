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
			d.Wheel, d.Lot, d.Customer, OneLine(d.Contact), OneLine(d.Address), d.Date, cellOf(d.Weight), d.Part, d.Document,
		})
	}
	return out
}

// FSMAHead names the columns of the sheet of key data that FSMA 204 wants at
// shipping and transformation (FDA, food traceability rule), in our own words. One
// sheet holds both, so that it can be sorted.
var FSMAHead = []string{
	"event", "date", "lot_code", "quantity", "unit", "description", "made_at_or_shipped_from", "recipient",
	"recipient_contact", "recipient_address", "lot_code_given_by", "reference_document", "made_from_lot_codes",
}

// FSMA is a row for each make with wheels concerned and each delivery; site is
// where they were made and shipped from.
func (t Trace) FSMA(site string) app.Table {
	out := app.Table{Name: "FSMA 204", Head: FSMAHead}
	for _, l := range t.Lots {
		if l.Reach == ViaFrom {
			continue
		}
		unit := "wheels"
		if l.WheelsOfLot == 1 {
			unit = "wheel"
		}
		out.Rows = append(out.Rows, []any{
			"transformation", l.Made, l.Lot, l.WheelsOfLot, unit, l.Title, site, "", "", "", site,
			"make sheet " + l.Lot, strings.Join(l.Inputs, "; "),
		})
	}
	for _, d := range t.Deliveries {
		n, unit := any(1), "wheel"
		switch {
		case d.Weight != nil:
			n, unit = *d.Weight, "g"
		case d.Part == "piece":
			unit = "piece"
		}
		out.Rows = append(out.Rows, []any{
			"shipping", d.Date, d.Lot, n, unit, fmt.Sprintf("%s, %s, wheel %s", d.title, d.Part, d.Wheel), site, d.Customer,
			OneLine(d.Contact), OneLine(d.Address), site, d.Document, "",
		})
	}
	slices.SortStableFunc(out.Rows, func(a, b []any) int { return cmp.Compare(a[1].(day.Date), b[1].(day.Date)) })
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
